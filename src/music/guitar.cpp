#include "src/music/guitar.h"

#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/name_match.h"
#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

struct NamedTuning {
    const char* name;
    std::vector<double> strings;  // string 1 first
};

const std::vector<NamedTuning>& namedTunings() {
    static const std::vector<NamedTuning> tunings{
        {"standard", {64, 59, 55, 50, 45, 40}},          {"half step down", {63, 58, 54, 49, 44, 39}},
        {"whole step down", {62, 57, 53, 48, 43, 38}},   {"drop D", {64, 59, 55, 50, 45, 38}},
        {"seven strings", {64, 59, 55, 50, 45, 40, 35}},
    };
    return tunings;
}

constexpr double lowestOpen = 35.0;   // B1
constexpr double highestOpen = 71.0;  // B4
constexpr std::size_t fewestStrings = 4, mostStrings = 9;

Error bad(std::string message) { return {Error::Code::badInput, std::move(message)}; }

std::string pitchClass(MidiPitch pitch) {
    std::string name = noteName(pitch);
    while (!name.empty() && (std::isdigit(static_cast<unsigned char>(name.back())) || name.back() == '-'))
        name.pop_back();
    return name;
}

std::string ordinal(int number) {
    return fmt::format("{}{}", number, number == 1 ? "st" : number == 2 ? "nd" : number == 3 ? "rd" : "th");
}

// "D2 A2, D3" at spaces and commas; one word of note names ("DADGAD", "EbAbDb") before each capital letter.
std::vector<std::string> splitNotes(std::string_view text) {
    std::vector<std::string> notes;
    const bool oneWord = text.find_first_of(" ,") == std::string_view::npos;
    std::string note;
    for (const char c : text) {
        const bool separator = c == ' ' || c == ',';
        if (separator || (oneWord && std::isupper(static_cast<unsigned char>(c)))) {
            if (!note.empty()) notes.push_back(note);
            note.clear();
        }
        if (!separator) note += c;
    }
    if (!note.empty()) notes.push_back(note);
    return notes;
}

// The octave that brings a note without one nearest to the standard string in that place, counted from the lowest of
// `count`.
MidiPitch nearestToStandard(MidiPitch note, std::size_t index, std::size_t count) {
    constexpr std::array<double, 7> standard{64, 59, 55, 50, 45, 40, 35};
    const std::size_t string = std::min(count - 1 - index, standard.size() - 1);
    return MidiPitch(note.value + 12.0 * std::round((standard[string] - note.value) / 12.0));
}

Result<void> checkStrings(const std::vector<MidiPitch>& strings) {
    if (strings.size() < fewestStrings || strings.size() > mostStrings)
        return bad(fmt::format("a tuning of {} string{}: give one note for each of {} to {} strings, the lowest first",
                               strings.size(), strings.size() == 1 ? "" : "s", fewestStrings, mostStrings));
    for (const MidiPitch open : strings)
        if (!(open.value >= lowestOpen && open.value <= highestOpen))
            return bad(fmt::format("an open string on {} is {}: tune each string between B1 and B4", noteName(open),
                                   open.value < lowestOpen ? "too low to be followed" : "higher than a guitar's"));
    return {};
}

}  // namespace

Result<void> checkGuitar(const Guitar& guitar) {
    if (auto strings = checkStrings(guitar.openStrings); !strings) return strings;
    if (guitar.highestFret < 12 || guitar.highestFret > 36)
        return bad(fmt::format("a neck of {} frets: give the highest fret, from 12 to 36", guitar.highestFret));
    if (guitar.capo < 0 || guitar.capo > guitar.highestFret / 2)
        return bad(fmt::format("a capo on fret {}: from 0 (none) to {} on a neck of {} frets", guitar.capo,
                               guitar.highestFret / 2, guitar.highestFret));
    if (!(guitar.a4.value >= 430.0 && guitar.a4.value <= 450.0))
        return bad(fmt::format("A4 at {:g} Hz: from 430 to 450 Hz", guitar.a4.value));
    if (!(guitar.scaleMm >= 450.0 && guitar.scaleMm <= 760.0))
        return bad(fmt::format("a scale of {:g} mm: measure from nut to saddle, 450 to 760 mm", guitar.scaleMm));
    if (guitar.radiusMm != 0.0 && !(guitar.radiusMm >= 150.0 && guitar.radiusMm <= 1000.0))
        return bad(
            fmt::format("a fretboard's radius of {:g} mm: from 150 to 1000 mm, or 0 for not told", guitar.radiusMm));
    if (guitar.actionMm != 0.0 && !(guitar.actionMm >= 0.5 && guitar.actionMm <= 6.0))
        return bad(
            fmt::format("an action of {:g} mm: the lowest string over the twelfth fret, from 0.5 to 6 mm, or 0 "
                        "for not told",
                        guitar.actionMm));
    for (const double gauge : guitar.gaugesInch)
        if (!(gauge >= 0.006 && gauge <= 0.090))
            return bad(fmt::format("a string gauge of {:g} in: from 0.006 to 0.090, as printed on the packet", gauge));
    return {};
}

Result<std::vector<MidiPitch>> parseTuning(std::string_view text) {
    const std::string key = matchKey(text);
    for (const NamedTuning& tuning : namedTunings()) {
        if (matchKey(tuning.name) != key) continue;
        std::vector<MidiPitch> strings;
        for (const double open : tuning.strings) strings.emplace_back(open);
        return strings;
    }
    const auto notes = splitNotes(text);
    const Error unreadable = bad(fmt::format(
        "'{}' is not a tuning: use standard, half step down, whole step down, drop D, seven strings, or note "
        "names from the lowest string, such as D2 A2 D3 G3 A3 D4",
        printable(text)));
    if (notes.empty()) return unreadable;
    std::vector<MidiPitch> strings;
    for (std::size_t i = 0; i < notes.size(); ++i) {
        // bare numbers look like fret numbers
        if (std::isdigit(static_cast<unsigned char>(notes[i].front()))) return unreadable;
        const bool hasOctave = std::isdigit(static_cast<unsigned char>(notes[i].back()));
        const auto pitch = parsePitch(hasOctave ? notes[i] : notes[i] + "4");
        if (!pitch) return unreadable;
        strings.insert(strings.begin(), hasOctave ? *pitch : nearestToStandard(*pitch, i, notes.size()));
    }
    if (auto checked = checkStrings(strings); !checked) return checked.error();
    return strings;
}

std::string tuningName(const std::vector<MidiPitch>& openStrings) {
    for (const NamedTuning& tuning : namedTunings()) {
        bool same = tuning.strings.size() == openStrings.size();
        for (std::size_t i = 0; same && i < openStrings.size(); ++i) same = tuning.strings[i] == openStrings[i].value;
        if (same) return tuning.name;
    }
    std::vector<std::string> names;
    for (auto open = openStrings.rbegin(); open != openStrings.rend(); ++open) names.push_back(noteName(*open));
    return fmt::format("{}", fmt::join(names, " "));
}

std::string describeGuitar(const Guitar& guitar) {
    std::vector<std::string> names;
    for (auto open = guitar.openStrings.rbegin(); open != guitar.openStrings.rend(); ++open)
        names.push_back(noteName(*open));
    const std::string notes = fmt::format("{}", fmt::join(names, " "));
    const std::string tuning = tuningName(guitar.openStrings);
    return fmt::format("{} strings, {}, {}, {} frets, {}-handed, A4 = {:g} Hz", guitar.stringCount(),
                       tuning == notes ? notes : fmt::format("{} ({})", tuning, notes),
                       guitar.capo == 0 ? std::string("no capo") : fmt::format("capo on {}", guitar.capo),
                       guitar.highestFret, guitar.leftHanded ? "left" : "right", guitar.a4.value);
}

std::vector<double> numbersIn(std::string_view text) {
    std::vector<double> numbers;
    const char* const end = text.data() + text.size();
    for (const char* at = text.data(); at < end;) {
        if (*at == ' ' || *at == ',') {
            ++at;
            continue;
        }
        double number = 0.0;
        const auto [next, fault] = std::from_chars(at, end, number);
        if (fault != std::errc()) return {};
        numbers.push_back(number);
        at = next;
    }
    return numbers;
}

std::string describeSetUp(const Guitar& guitar) {
    std::string words;
    if (!guitar.gaugesInch.empty())
        words = fmt::format("strings {:.3f} to {:.3f} in, ", guitar.gaugesInch.front(), guitar.gaugesInch.back());
    words += fmt::format("third {}, scale {:g} mm", guitar.plainStrings > 2 ? "plain" : "wound", guitar.scaleMm);
    if (guitar.radiusMm > 0.0) words += fmt::format(", radius {:g} mm", guitar.radiusMm);
    if (guitar.actionMm > 0.0) words += fmt::format(", action {:g} mm", guitar.actionMm);
    return words;
}

bool hasPlace(const Guitar& guitar, NeckPlace place) {
    return place.string >= 1 && place.string <= guitar.stringCount() && place.fret >= 0
           && place.fret <= guitar.highestPlayedFret();
}

MidiPitch pitchAt(const Guitar& guitar, NeckPlace place) {
    return MidiPitch(guitar.openStrings[static_cast<std::size_t>(place.string - 1)].value + guitar.capo + place.fret);
}

StringName stringNames(const Guitar& guitar, int string) {
    constexpr std::array<std::pair<double, const char*>, 7> standard{
        {{64, "high E"}, {59, "B"}, {55, "G"}, {50, "D"}, {45, "A"}, {40, "low E"}, {35, "low B"}}};
    const std::string number = ordinal(string);
    if (string < 1 || string > guitar.stringCount()) return {number, number + " string"};
    const auto index = static_cast<std::size_t>(string - 1);
    const MidiPitch open = guitar.openStrings[index];
    if (index >= standard.size() || standard[index].first != open.value)
        return {number, fmt::format("{} string ({})", number, pitchClass(open))};
    return {standard[index].second, fmt::format("{} string", standard[index].second)};
}

std::string stringName(const Guitar& guitar, int string) { return stringNames(guitar, string).whole; }

std::vector<std::string> briefNames(const Guitar& guitar) {
    std::vector<std::string> names;
    for (int string = 1; string <= guitar.stringCount(); ++string) names.push_back(stringNames(guitar, string).brief);
    return names;
}

std::string placeName(const Guitar& guitar, NeckPlace place) {
    if (place.fret == 0) return stringName(guitar, place.string) + " · open";
    return fmt::format("{} · fret {}", stringName(guitar, place.string), place.fret);
}

std::string shapeName(const Guitar& guitar, NeckPlace place, std::vector<NeckPlace> others) {
    others.push_back(place);
    std::sort(others.begin(), others.end(), [](NeckPlace a, NeckPlace b) { return a.string > b.string; });
    std::vector<std::string> names;
    for (const NeckPlace each : others)
        names.push_back(stringNames(guitar, each.string).brief
                        + (each.fret == 0 ? " open" : fmt::format(" {}", each.fret)));
    return fmt::format("{}", fmt::join(names, " + "));
}

}  // namespace landfall
