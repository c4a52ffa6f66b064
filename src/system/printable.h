// Text from outside (a file, an argument, a device), fit for a terminal: nothing in it ends the line or steers what
// shows it. Any thread.
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <string_view>

namespace landfall {

// One line of UTF-8. Control characters (C0, DEL, C1: ISO/IEC 6429) and bytes that are no UTF-8 become '?', a byte or a
// character each.
std::string printable(std::string_view text);

// The same, but line breaks and tabs stay: for whole tables.
std::string printableLines(std::string_view text);

// How many characters UTF-8 text has.
inline std::size_t characterCount(std::string_view text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

}  // namespace landfall
