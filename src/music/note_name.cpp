#include "src/music/note_name.h"

#include <array>
#include <cctype>
#include <charconv>
#include <cmath>

#include <fmt/core.h>

#include "src/system/printable.h"

namespace landfall {

namespace {

Error notANote(std::string_view text) {
    return {Error::Code::badInput,
            fmt::format("'{}' is not a note: write a name such as F#4 or Bb3, or a MIDI number from 0 to 127",
                        printable(text))};
}

bool takePrefix(std::string_view& text, std::string_view prefix) {
    if (!text.starts_with(prefix)) return false;
    text.remove_prefix(prefix.size());
    return true;
}

}  // namespace

Result<MidiPitch> parsePitch(std::string_view text) {
    std::string_view rest = text;
    if (rest.empty()) return notANote(text);
    double number = 0.0;
    if (const auto [end, bad] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
        bad == std::errc() && end == rest.data() + rest.size()) {
        if (!(number >= 0.0 && number <= 127.0)) return notANote(text);
        return MidiPitch(number);
    }
    constexpr std::array<int, 7> fromLetter{9, 11, 0, 2, 4, 5, 7};  // A to G
    const int letter = std::toupper(static_cast<unsigned char>(rest.front())) - 'A';
    if (letter < 0 || letter > 6) return notANote(text);
    rest.remove_prefix(1);
    int alter = 0;
    while (true) {
        if (takePrefix(rest, "#") || takePrefix(rest, "♯")) ++alter;
        else if (takePrefix(rest, "b") || takePrefix(rest, "♭")) --alter;
        else break;
    }
    int octave = 0;
    const auto [end, bad] = std::from_chars(rest.data(), rest.data() + rest.size(), octave);
    if (rest.empty() || bad != std::errc() || end != rest.data() + rest.size() || octave < -1 || octave > 10)
        return notANote(text);
    const int midi = 12 * (octave + 1) + fromLetter[static_cast<std::size_t>(letter)] + alter;
    if (midi < 0 || midi > 127) return notANote(text);
    return MidiPitch(midi);
}

std::string noteName(MidiPitch pitch) {
    constexpr std::array<const char*, 12> names{"C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B"};
    const int nearest = static_cast<int>(std::lround(pitch.value));
    const int octave = static_cast<int>(std::floor(nearest / 12.0));
    return fmt::format("{}{}", names[static_cast<std::size_t>(nearest - 12 * octave)], octave - 1);
}

}  // namespace landfall
