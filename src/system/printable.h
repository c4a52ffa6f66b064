// Text from outside (a file, an argument), fit for one line of a message: nothing in it ends the line or steers a terminal. Any thread.
#pragma once

#include <string>
#include <string_view>

namespace landfall {

inline std::string printable(std::string_view text) {
    std::string line(text);
    for (char& c : line)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = '?';
    return line;
}

}  // namespace landfall
