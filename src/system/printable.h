// Text from outside (a file, an argument), fit for one line of a message: nothing in it ends the line or steers a terminal. Any thread.
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <string_view>

namespace landfall {

inline std::string printable(std::string_view text) {
    std::string line(text);
    for (char& c : line)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = '?';
    return line;
}

// How many characters UTF-8 text has.
inline std::size_t characterCount(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

}  // namespace landfall
