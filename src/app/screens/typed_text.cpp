#include "src/app/screens/typed_text.h"

#include "src/system/printable.h"

namespace landfall {

void eraseLast(std::string& text) {
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0) == 0x80) text.pop_back();
    if (!text.empty()) text.pop_back();
}

void append(std::string& text, unsigned codePoint, std::size_t longest) {
    std::string bytes;
    if (codePoint < 0x80) bytes += static_cast<char>(codePoint);
    else if (codePoint < 0x800)
        bytes = {static_cast<char>(0xC0 | (codePoint >> 6)), static_cast<char>(0x80 | (codePoint & 0x3F))};
    else if (codePoint < 0x10000)
        bytes = {static_cast<char>(0xE0 | (codePoint >> 12)), static_cast<char>(0x80 | ((codePoint >> 6) & 0x3F)),
                 static_cast<char>(0x80 | (codePoint & 0x3F))};
    if (characterCount(text) < longest) text += bytes;
}

std::string trimmed(const std::string& text) {
    const auto first = text.find_first_not_of(' '), last = text.find_last_not_of(' ');
    return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

}  // namespace landfall
