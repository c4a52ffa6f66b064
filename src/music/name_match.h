// Finds the name somebody meant: upper and lower case, spaces, dashes and underscores are alike. Plain functions, any
// thread.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace landfall {

// "Half up", "half-up" and " HALF_UP " all give "half-up".
std::string matchKey(std::string_view name);

// What a file may be called after it: a slash would lead to another folder.
std::string fileNameFor(std::string name);

// Up to `most` names by edit distance, nearest first; only those that share something with what was typed.
std::vector<std::string> nearestNames(std::string_view typed, const std::vector<std::string>& names,
                                      std::size_t most = 3);

}  // namespace landfall
