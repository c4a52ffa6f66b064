#include "src/music/move.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>

#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {
constexpr std::string_view unknownGesture = "any";
constexpr double sameNote = 0.6;  // semitones
}  // namespace

std::string_view gestureName(const Move& move) { return move.asHeard ? unknownGesture : gestureName(move.gesture); }

bool goesOn(const Move& before, const Move& after) {
    if (kindOf(after.gesture).ownStroke || before.with.size() != after.with.size()) return false;
    if (after.with.empty()) return std::abs(after.from.value - before.to.value) < sameNote;
    const auto first = stringsOf(before), next = stringsOf(after);
    return std::equal(first.begin(), first.end(), next.begin(),
                      [](const Move& a, const Move& b) { return std::abs(b.from.value - a.to.value) < sameNote; });
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
        return Error{Error::Code::badInput,
                     fmt::format("{}, or any for a bend or a slide as it is heard", gesture.error().message)};
    const auto from = parsePitch(text.substr(first + 1, second - first - 1));
    if (!from) return from.error();
    const auto to = parsePitch(text.substr(second + 1));
    if (!to) return to.error();
    static constexpr std::array<const char*, 4> expected{
        "{} goes up: TO must be the higher note", "{} comes down: TO must be the lower note",
        "FROM and TO must be different notes", "{} stays: FROM and TO are the same note"};
    const Course course = asHeard ? Course::either : kindOf(*gesture).course;
    if (!goes(course, to->value - from->value))
        return Error{Error::Code::badInput,
                     fmt::format("'{}': {}", printable(text),
                                 fmt::format(fmt::runtime(expected[static_cast<std::size_t>(course)]),
                                             "a " + std::string(gestureName(*gesture))))};
    return Move{*gesture, *from, *to, std::nullopt, std::nullopt, asHeard, {}};
}

}  // namespace landfall
