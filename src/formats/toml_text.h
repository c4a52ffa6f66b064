// TOML that anybody may have written, bounded before it is parsed: the library follows nested values and dotted keys by
// recursion. Any thread.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>

#include <toml++/toml.h>

namespace landfall {

// Bytes; our own files have one or two thousand.
constexpr std::uintmax_t largestTomlFile = 1 << 20;

// What keeps a text from being a table: where (from 1), and one line that says what.
struct TomlFault {
    std::uint32_t line = 1, column = 1;
    std::string what;
};

std::variant<toml::table, TomlFault> parseToml(std::string_view text, std::string_view fileName);

}  // namespace landfall
