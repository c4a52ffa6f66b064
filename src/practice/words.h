// What is said in two parts: one that is read from across the room, and the rest.
#pragma once

#include <cmath>
#include <concepts>
#include <string>
#include <string_view>

#include "dsp/units.h"

namespace landfall {

struct Words {
    std::string headline;  // "Usually 14 cents off, mostly low"
    std::string rest;      // "9 of 15 within 25 cents; 2 died."
    bool operator==(const Words&) const = default;
};

// In one line: "Usually 14 cents off, mostly low. 9 of 15 within 25 cents; 2 died."
inline std::string whole(const Words& words) {
    return words.headline + "." + (words.rest.empty() ? "" : " " + words.rest);
}

// "−22", "+7", "0": with a real minus sign.
inline std::string signedCents(Cents cents) {
    const long rounded = std::lround(cents.value);
    return (rounded < 0 ? "−" : rounded > 0 ? "+" : "") + std::to_string(std::abs(rounded));
}

// With a capital letter at its beginning, or without one.
inline std::string capitalised(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}
inline std::string uncapitalised(std::string text) {
    if (!text.empty() && text.front() >= 'A' && text.front() <= 'Z')
        text.front() = static_cast<char>(text.front() - 'A' + 'a');
    return text;
}

// "1 try", "3 tries"
inline std::string counted(std::integral auto count, std::string_view one, std::string_view several) {
    return (std::to_string(count) + ' ').append(count == 1 ? one : several);
}

}  // namespace landfall
