#include "src/music/move.h"

#include <array>
#include <cmath>

#include <fmt/core.h>

#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {
constexpr std::array<std::string_view, 6> names{"bend", "release", "pre-bend", "slide", "note", "vibrato"};
constexpr std::string_view unknownGesture = "any";
}

std::string_view gestureName(Gesture gesture) { return names[static_cast<std::size_t>(gesture)]; }

std::string_view gestureName(const Move& move) { return move.asHeard ? unknownGesture : gestureName(move.gesture); }

bool goesOn(const Move& before, const Move& after) {
    if (after.gesture == Gesture::note || after.gesture == Gesture::preBend) return false;
    return std::abs(after.from.value - before.to.value) < 0.6;
}

Result<Gesture> parseGesture(std::string_view name) {
    for (std::size_t i = 0; i < names.size(); ++i)
        if (names[i] == name) return static_cast<Gesture>(i);
    return Error{Error::Code::badInput,
                 fmt::format("'{}' is not a gesture: use bend, release, pre-bend, slide, note or vibrato", printable(name))};
}

Result<Move> parseMove(std::string_view text) {
    const auto first = text.find(':');
    const auto second = first == std::string_view::npos ? first : text.find(':', first + 1);
    if (second == std::string_view::npos)
        return Error{Error::Code::badInput,
                     fmt::format("'{}' is not a move: write GESTURE:FROM:TO, for example bend:D4:E4", printable(text))};
    const bool asHeard = text.substr(0, first) == unknownGesture;
    const auto gesture = asHeard ? Result<Gesture>(Gesture::bend) : parseGesture(text.substr(0, first));
    if (!gesture)
        return Error{Error::Code::badInput, fmt::format("'{}' is not a gesture: use bend, release, pre-bend, slide, note or vibrato, or any for a bend or a slide as it is heard",
                                                        printable(text.substr(0, first)))};
    const auto from = parsePitch(text.substr(first + 1, second - first - 1));
    if (!from) return from.error();
    const auto to = parsePitch(text.substr(second + 1));
    if (!to) return to.error();
    const bool still = *gesture == Gesture::note || *gesture == Gesture::vibrato;
    if (still != (from->value == to->value))
        return Error{Error::Code::badInput,
                     fmt::format("'{}': {}", printable(text), still ? "a note and a vibrato name the same note twice"
                                                         : "FROM and TO must be different notes")};
    return Move{*gesture, *from, *to, std::nullopt, std::nullopt, asHeard};
}

}  // namespace landfall
