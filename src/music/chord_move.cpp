#include "src/music/chord_move.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr double sameNote = 0.6;    // semitones
constexpr double widestBend = 4.0;  // semitones, as a drill's

Error bad(std::string_view text, std::string what) {
    return Error{Error::Code::badInput, fmt::format("'{}': {}", printable(text), what)};
}

std::vector<std::string_view> cut(std::string_view text, char at) {
    std::vector<std::string_view> parts;
    for (std::size_t begin = 0;;) {
        const auto end = text.find(at, begin);
        parts.push_back(text.substr(begin, end == std::string_view::npos ? end : end - begin));
        if (end == std::string_view::npos) return parts;
        begin = end + 1;
    }
}

Result<std::vector<MidiPitch>> parseNotes(std::string_view text) {
    std::vector<MidiPitch> notes;
    for (const std::string_view name : cut(text, '+')) {
        const auto pitch = parsePitch(name);
        if (!pitch) return pitch.error();
        notes.push_back(*pitch);
    }
    return notes;
}

std::string joined(const ChordMove& move, MidiPitch Move::*end) {
    std::vector<std::string> names;
    for (const Move& string : move.strings) names.push_back(noteName(string.*end));
    return fmt::format("{}", fmt::join(names, "+"));
}

// What is wrong with it; empty: nothing.
std::string fault(const ChordMove& move) {
    const auto& strings = move.strings;
    for (std::size_t i = 0; i + 1 < strings.size(); ++i)
        if (!(strings[i].from < strings[i + 1].from)) return "FROM runs from the low note to the high one";
    bool moves = false;
    for (const Move& string : strings) {
        const double way = string.width();
        if (std::abs(way) < 1e-9) continue;
        moves = true;
        if (move.gesture == Gesture::note) return "a note stays: FROM and TO are the same notes";
        if (move.gesture == Gesture::bend && way < 0.0) return "a bend goes up or holds: no string may come down";
        if (move.gesture == Gesture::release && way > 0.0) return "a release comes down or holds: no string may go up";
        if (move.gesture != Gesture::slide && std::abs(way) > widestBend)
            return "no string bends further than two steps";
    }
    if (!moves && move.gesture != Gesture::note) return "one string at least must go to another note";
    return {};
}

}  // namespace

bool isUnison(const ChordMove& move) {
    for (std::size_t i = 0; i + 1 < move.strings.size(); ++i)
        if (move.strings[i].to == move.strings[i + 1].to) return true;
    return false;
}

bool goesOn(const ChordMove& before, const ChordMove& after) {
    return after.gesture != Gesture::note
           && std::equal(before.strings.begin(), before.strings.end(), after.strings.begin(), after.strings.end(),
                         [](const Move& a, const Move& b) { return std::abs(b.from.value - a.to.value) < sameNote; });
}

std::string notesOf(const ChordMove& move) {
    const std::string from = joined(move, &Move::from), to = joined(move, &Move::to);
    return from == to ? to : from + " – " + to;
}

bool namesSeveralStrings(std::string_view move) { return move.find('+') != std::string_view::npos; }

Result<ChordMove> parseChordMove(std::string_view text) {
    const auto parts = cut(text, ':');
    if (parts.size() < 2 || parts.size() > 3)
        return bad(text, "write GESTURE:FROM:TO, for example bend:D4+G4:E4+G4 or note:D4+B4");
    const auto gesture = parseGesture(parts[0]);
    if (!gesture
        || (*gesture != Gesture::note && *gesture != Gesture::slide && *gesture != Gesture::bend
            && *gesture != Gesture::release))
        return bad(text, "several strings at once are a note, a slide, a bend or a release");
    if (parts.size() == 2 && *gesture != Gesture::note) return bad(text, "only a note may leave out TO");
    const auto from = parseNotes(parts[1]);
    if (!from) return from.error();
    const auto to = parts.size() == 3 ? parseNotes(parts[2]) : from;
    if (!to) return to.error();
    if (from->size() != to->size()) return bad(text, "TO needs a note for each note of FROM");
    if (from->size() < 2 || from->size() > ChordMove::mostStrings)
        return bad(text, fmt::format("two or {} strings sound together, not {}", ChordMove::mostStrings, from->size()));
    ChordMove move{*gesture, {}};
    for (std::size_t i = 0; i < from->size(); ++i) {
        const bool held = (*from)[i] == (*to)[i];
        move.strings.push_back(
            {held ? Gesture::note : *gesture, (*from)[i], (*to)[i], std::nullopt, std::nullopt, false});
    }
    if (const std::string what = fault(move); !what.empty()) return bad(text, what);
    return move;
}

}  // namespace landfall
