#include "src/music/chord_move.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/guitar.h"
#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr double widestChordBend = 4.0;  // semitones, as a drill's

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

std::string joined(const Move& move, MidiPitch Move::*end) {
    std::vector<std::string> names;
    for (const Move& string : stringsOf(move)) names.push_back(noteName(string.*end));
    return fmt::format("{}", fmt::join(names, "+"));
}

}  // namespace

std::string shapeWords(const Guitar& guitar, const Move& move) {
    std::vector<Move> strings = move.with;
    strings.push_back(move);
    std::ranges::sort(strings, std::greater{}, [](const Move& each) { return each.place->string; });
    std::vector<NeckPlace> others;
    for (const Move& other : move.with) others.push_back(*other.place);
    const auto words = [](const Move& each, std::string_view GestureKind::*which) {
        return filledIn(kindOf(each.gesture).*which, each.gesture, each.width(), each.targetFret.value_or(0));
    };
    for (const auto which : {&GestureKind::asked, &GestureKind::task})
        if (std::ranges::all_of(strings, [&](const Move& each) { return words(each, which) == words(move, which); }))
            return shapeName(guitar, *move.place, others) + " · " + words(move, which);
    std::vector<std::string> all;
    for (const Move& each : strings)
        all.push_back(fmt::format("{} {}", shapeName(guitar, *each.place, {}),
                                  each.gesture == Gesture::note ? "held" : words(each, &GestureKind::asked)));
    return fmt::format("{}", fmt::join(all, " + "));
}

std::vector<Move> stringsOf(const Move& move) {
    std::vector<Move> strings = move.with;
    strings.push_back(move);
    strings.back().with.clear();
    if (std::abs(move.width()) < 1e-9) strings.back().gesture = Gesture::note;
    std::stable_sort(strings.begin(), strings.end(), [](const Move& a, const Move& b) { return a.from < b.from; });
    return strings;
}

Move together(Gesture gesture, std::vector<Move> strings) {
    const auto moving =
        std::find_if(strings.begin(), strings.end(), [](const Move& each) { return std::abs(each.width()) > 1e-9; });
    const auto leading = moving == strings.end() ? strings.begin() : moving;
    Move move = *leading;
    strings.erase(leading);
    move.gesture = gesture;
    move.with = std::move(strings);
    return move;
}

std::string faultOf(const Move& move) {
    const auto strings = stringsOf(move);
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
        if (move.gesture != Gesture::slide && std::abs(way) > widestChordBend)
            return "no string bends further than two steps";
    }
    if (!moves && move.gesture != Gesture::note) return "one string at least must go to another note";
    return {};
}

bool mayBeTogether(Gesture gesture) {
    return gesture == Gesture::note || gesture == Gesture::slide || gesture == Gesture::bend
           || gesture == Gesture::release;
}

bool isUnison(const Move& move) {
    const auto strings = stringsOf(move);
    for (std::size_t i = 0; i + 1 < strings.size(); ++i)
        if (strings[i].to == strings[i + 1].to) return true;
    return false;
}

std::size_t heldString(const Move& unison) {
    const auto strings = stringsOf(unison);
    const auto held =
        std::find_if(strings.begin(), strings.end(), [](const Move& each) { return each.gesture == Gesture::note; });
    return static_cast<std::size_t>(held - strings.begin()) % strings.size();
}

std::string_view harmonyName(int semitones) {
    static constexpr std::array<std::string_view, 25> names{
        "unison",     "second",     "second",     "third",        "third",    "fourth",  "tritone",
        "fifth",      "sixth",      "sixth",      "seventh",      "seventh",  "octave",  "ninth",
        "ninth",      "tenth",      "tenth",      "eleventh",     "interval", "twelfth", "thirteenth",
        "thirteenth", "fourteenth", "fourteenth", "double octave"};
    const auto index = static_cast<std::size_t>(semitones);
    return index < names.size() ? names[index] : "interval";
}

std::string notesOf(const Move& move) {
    const std::string from = joined(move, &Move::from), to = joined(move, &Move::to);
    return from == to ? to : from + " – " + to;
}

bool namesSeveralStrings(std::string_view move) { return move.find('+') != std::string_view::npos; }

Result<Move> parseChordMove(std::string_view text) {
    const auto parts = cut(text, ':');
    if (parts.size() < 2 || parts.size() > 3)
        return bad(text, "write GESTURE:FROM:TO, for example bend:D4+G4:E4+G4 or note:D4+B4");
    const auto gesture = parseGesture(parts[0]);
    if (!gesture || !mayBeTogether(*gesture))
        return bad(text, "several strings at once are a note, a slide, a bend or a release");
    if (parts.size() == 2 && *gesture != Gesture::note) return bad(text, "only a note may leave out TO");
    const auto from = parseNotes(parts[1]);
    if (!from) return bad(text, from.error().message);
    const auto to = parts.size() == 3 ? parseNotes(parts[2]) : from;
    if (!to) return bad(text, to.error().message);
    if (from->size() != to->size()) return bad(text, "TO needs a note for each note of FROM");
    if (from->size() < 2 || from->size() > mostStruckTogether)
        return bad(text, fmt::format("two to {} strings sound together, not {}", mostStruckTogether, from->size()));
    std::vector<Move> strings;
    for (std::size_t i = 0; i < from->size(); ++i) {
        const bool held = (*from)[i] == (*to)[i];
        if (i > 0 && !((*from)[i - 1] < (*from)[i])) return bad(text, "FROM runs from the low note to the high one");
        strings.push_back({held ? Gesture::note : *gesture, (*from)[i], (*to)[i], std::nullopt, std::nullopt, false});
    }
    Move move = together(*gesture, std::move(strings));
    if (const std::string what = faultOf(move); !what.empty()) return bad(text, what);
    return move;
}

}  // namespace landfall
