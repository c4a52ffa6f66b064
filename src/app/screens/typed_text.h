// Text as it is typed, UTF-8, a character at a time. Any thread.
#pragma once

#include <cstddef>
#include <string>

namespace landfall {

void append(std::string& text, unsigned codePoint, std::size_t longest);  // characters
void eraseLast(std::string& text);                                        // as a whole
std::string trimmed(const std::string& text);                             // without spaces around it

}  // namespace landfall
