#include "src/system/printable.h"

namespace landfall {

namespace {

// Bytes of the character that `text` begins with; 0 where it is no well-formed UTF-8 (The Unicode Standard 15.0, table
// 3-7).
std::size_t characterLength(std::string_view text) {
    const auto byte = [&](std::size_t at) { return at < text.size() ? static_cast<unsigned char>(text[at]) : 0U; };
    const auto follows = [&](std::size_t at) { return (byte(at) & 0xC0U) == 0x80U; };
    const unsigned first = byte(0), second = byte(1);
    if (first < 0x80) return 1;
    if (first >= 0xC2 && first <= 0xDF) return follows(1) ? 2 : 0;
    if (first >= 0xE0 && first <= 0xEF) {
        // too long for its number; half of a pair
        if ((first == 0xE0 && second < 0xA0) || (first == 0xED && second > 0x9F)) return 0;
        return follows(1) && follows(2) ? 3 : 0;
    }
    if (first >= 0xF0 && first <= 0xF4) {
        if ((first == 0xF0 && second < 0x90) || (first == 0xF4 && second > 0x8F)) return 0;
        return follows(1) && follows(2) && follows(3) ? 4 : 0;
    }
    return 0;
}

std::string cleaned(std::string_view text, std::string_view kept) {
    std::string clean;
    clean.reserve(text.size());
    while (!text.empty()) {
        const std::size_t length = characterLength(text);
        const auto byte = [&](std::size_t at) { return static_cast<unsigned char>(text[at]); };
        const bool control = length == 1
                                 ? (byte(0) < 0x20 || byte(0) == 0x7F) && kept.find(text[0]) == std::string_view::npos
                                 : length == 2 && byte(0) == 0xC2 && byte(1) < 0xA0;
        if (length == 0 || control) clean += '?';
        else clean += text.substr(0, length);
        text.remove_prefix(length == 0 ? 1 : length);
    }
    return clean;
}

}  // namespace

std::string printable(std::string_view text) { return cleaned(text, {}); }
std::string printableLines(std::string_view text) { return cleaned(text, "\n\r\t"); }

}  // namespace landfall
