#include "src/practice/chord_landing.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double anotherFret = 50.0;  // cents: nearer to the fret beside
// Nearer together than this no distance is said: each string's own two polarisations beat as slowly.
constexpr double inUnison = 3.0;
constexpr double slowestBeat = 0.4, fastestBeat = 8.0;  // Hz: what an ear counts

std::string signedWords(double cents) {
    const long whole = std::lround(std::abs(cents));
    return whole == 0 ? "dead on" : fmt::format("{} {}", whole, cents < 0.0 ? "under" : "over");
}

std::string beatWords(Hertz beat) {
    const long tenths = std::lround(10.0 * beat.value);
    return tenths == 10 ? "beats once a second" : fmt::format("beats {:.1f} times a second", beat.value);
}

bool isUnsure(const StringLanding& string) { return string.heard == StringHeard::notSure; }

// What one string did, and how bad that is: 0 right.
struct Said {
    std::string words;
    double fault = 0.0;
};

// "B", as the player says it; of a move without a place the note: "D4".
std::string nameOf(const Move& string, std::span<const std::string> names) {
    const auto index = string.place ? static_cast<std::size_t>(string.place->string - 1) : names.size();
    return index < names.size() ? names[index] : noteName(string.to);
}

Said saidOf(const Move& string, const StringLanding& landing, const std::string& name, Cents aim) {
    if (landing.heard == StringHeard::no) return {name + " did not sound", 1e3};
    if (landing.heard == StringHeard::notSure) return {name + " not sure", 1e2};
    if (!landing.landingError) return {name + " not measurable", 1e2};
    const double error = landing.landingError->value;
    if (std::abs(error) > anotherFret)
        return {fmt::format("{} sounded in place of {}",
                            noteName(MidiPitch(std::round(string.to.value + error / 100.0))), noteName(string.to)),
                std::abs(error)};
    if (std::abs(error) <= aim.value) return {name + " right", 0.0};
    return {name + " " + signedWords(error), std::abs(error)};
}

std::optional<std::string> unisonWords(const Landing& landing) {
    const auto apart = apartInUnison(landing);
    if (!apart) return std::nullopt;
    if (std::abs(apart->value) < inUnison) return "In unison";
    std::string words = fmt::format("{} the held string", signedWords(apart->value));
    if (landing.beat && landing.beat->value > slowestBeat && landing.beat->value < fastestBeat)
        words += ": it " + beatWords(*landing.beat);
    return words;
}

std::string draggedWords(const Landing& landing, const std::vector<Move>& asked, std::span<const std::string> names) {
    for (std::size_t j = 0; j < landing.strings.size(); ++j) {
        const auto& dragged = landing.strings[j].dragged;
        if (dragged && std::abs(dragged->value) >= draggedLeast && !isUnsure(landing.strings[j]))
            return fmt::format(" The held {} was pulled {:.0f} {}.", nameOf(asked[j], names), std::abs(dragged->value),
                               dragged->value > 0.0 ? "up" : "down");
    }
    return {};
}

// " B came 150 ms late."
std::string lateWords(const Landing& landing, const std::vector<Move>& asked, std::span<const std::string> names) {
    std::vector<std::string> late;
    double by = 0.0;
    for (std::size_t j = 0; j < landing.strings.size(); ++j)
        if (const auto& each = landing.strings[j].late) {
            late.push_back(nameOf(asked[j], names));
            by = each->value;
        }
    if (late.empty()) return {};
    return fmt::format(" {} came {:.0f} ms late.", fmt::join(late, ", "), 10.0 * std::round(100.0 * by));
}

// How two strings stand to each other: "The sixth is 12 wide."
std::string intervalWords(const Landing& landing, const std::vector<Move>& asked) {
    if (landing.strings.size() != 2 || isUnison(landing.move)) return {};
    const bool just = landing.target == Target::just;
    const auto& error = just ? landing.strings[1].pureInterval : landing.strings[1].interval;
    const auto isAnotherNote = [](const StringLanding& string) {
        return string.landingError && abs(*string.landingError).value > anotherFret;
    };
    if (!error || std::ranges::any_of(landing.strings, isAnotherNote) || std::ranges::any_of(landing.strings, isUnsure))
        return {};
    const long semitones = std::lround(asked[1].to.value - asked[0].to.value);
    const std::string_view name = harmonyName(static_cast<int>(std::abs(semitones)));
    const long cents = std::lround(semitones < 0 ? -error->value : error->value);
    if (cents == 0) return fmt::format(" The {} is {}.", name, just ? "pure" : "right");
    const char* side = cents < 0 ? "narrow" : "wide";
    return just ? fmt::format(" The {} is {} too {} to be pure.", name, std::abs(cents), side)
                : fmt::format(" The {} is {} {}.", name, std::abs(cents), side);
}

bool silent(const Landing& landing) {
    return std::any_of(landing.strings.begin(), landing.strings.end(),
                       [](const auto& each) { return each.heard == StringHeard::no; });
}

// Why nothing is said of a string: an octave or a twelfth hides it, or noise.
std::string hiddenWords(const Landing& landing) {
    const auto count = std::ranges::count_if(landing.strings, isUnsure);
    if (count == 0) return {};
    return fmt::format(" {} cannot be told apart from the other string{}.", count == 1 ? "It" : "They",
                       landing.strings.size() == 2 ? "" : "s");
}

// Of more strings than a glance can take in: those that were wrong, and those that hide.
std::string shapeWords(const Landing& landing, const std::vector<Move>& asked, Cents aim,
                       std::span<const std::string> names) {
    std::vector<std::string> wrong, hidden;
    for (std::size_t j = 0; j < landing.strings.size(); ++j) {
        const std::string name = nameOf(asked[j], names);
        const Said said = saidOf(asked[j], landing.strings[j], name, aim);
        if (isUnsure(landing.strings[j])) hidden.push_back(name);
        else if (said.fault > 0.0) wrong.push_back(said.words);
    }
    if (hidden.size() == landing.strings.size()) return "The strings cannot be told apart.";
    const char* right = hidden.empty() ? "All right." : "Right as far as can be told.";
    return fmt::format("{}{}", wrong.empty() ? right : fmt::format("{}.", fmt::join(wrong, ", ")),
                       hidden.empty() ? "" : fmt::format(" Hidden by the others: {}.", fmt::join(hidden, ", ")));
}

}  // namespace

bool takenAsHeard(const StringLanding& string) {
    return string.heard == StringHeard::notSure ? string.landingError.has_value() : string.heard == StringHeard::yes;
}

Cents pureInterval(int semitones) {
    struct Ratio {
        double over, under;
    };
    // Within an octave: unison, seconds, thirds, fourth, tritone, fifth, sixths, sevenths.
    constexpr std::array<Ratio, 12> ratios{
        {{1, 1}, {16, 15}, {9, 8}, {6, 5}, {5, 4}, {4, 3}, {45, 32}, {3, 2}, {8, 5}, {5, 3}, {9, 5}, {15, 8}}};
    if (semitones < 0) return -pureInterval(-semitones);
    const int octaves = semitones / 12;
    const Ratio ratio = ratios[static_cast<std::size_t>(semitones % 12)];
    return Cents(1200.0 * (octaves + std::log2(ratio.over / ratio.under)));
}

std::optional<Cents> apartInUnison(const Landing& landing) {
    if (!isUnison(landing.move) || landing.strings.size() != 2) return std::nullopt;
    const std::size_t held = heldString(landing.move);
    const auto &bent = landing.strings[1 - held].landingError, &still = landing.strings[held].landingError;
    if (!bent || !still) return std::nullopt;
    return *bent - *still;
}

namespace {

Verdict verdictOf(const Landing& landing) {
    if (silent(landing)) return Verdict::died;
    if (!landing.landingError) return Verdict::notMeasurable;
    const Cents worst = *landing.landingError;
    return abs(worst).value > anotherFret ? Verdict::wrongFret : bandOf(worst);
}

std::string sentenceOf(const Landing& landing, Cents aim, std::span<const std::string> names) {
    const auto asked = stringsOf(landing.move);
    if (asked.size() >= manyStrings)
        return shapeWords(landing, asked, aim, names) + draggedWords(landing, asked, names)
               + lateWords(landing, asked, names);
    std::vector<std::string> words;
    bool good = true;
    for (std::size_t j = 0; j < landing.strings.size(); ++j) {
        const Said said = saidOf(asked[j], landing.strings[j], nameOf(asked[j], names), aim);
        words.push_back(said.words);
        good = good && said.fault == 0.0;
    }
    std::string sentence = fmt::format("{}", fmt::join(words, ", "));
    if (good) sentence = landing.strings.size() == 2 ? "Both right" : "All right";
    if (const auto unison = unisonWords(landing); unison && !silent(landing)) sentence = capitalised(*unison);
    return fmt::format("{}.{}{}{}{}", sentence, hiddenWords(landing), draggedWords(landing, asked, names),
                       lateWords(landing, asked, names), intervalWords(landing, asked));
}

// Of a unison how far apart the strings are. What is right as far as anybody can tell is not told to be right; but in a
// shape of many strings some always hide, and what half of them show counts.
void takeWorst(Landing& landing, Cents aim) {
    const auto counts = stringThatCounts(landing);
    if (!counts) return;
    const auto apart = apartInUnison(landing);
    const auto error = apart ? apart : landing.strings[*counts].landingError;
    const auto unsure = static_cast<std::size_t>(std::ranges::count_if(landing.strings, isUnsure));
    const bool enough = landing.strings.size() >= manyStrings && 2 * unsure <= landing.strings.size();
    if (unsure > 0 && !enough && abs(*error) <= aim) return;
    landing.landingError = error;
    landing.sd = landing.strings[*counts].sd;
    landing.firstStopError = landing.landingError;
}

}  // namespace

std::optional<std::size_t> stringThatCounts(const Landing& landing) {
    std::optional<std::size_t> worst;
    for (std::size_t j = 0; j < landing.strings.size(); ++j) {
        if (isUnsure(landing.strings[j])) continue;
        const auto& error = landing.strings[j].landingError;
        if (landing.strings[j].heard == StringHeard::no || !error) return std::nullopt;
        if (!worst || abs(*error) > abs(*landing.strings[*worst].landingError)) worst = j;
    }
    if (!worst || landing.strings.size() != 2 || !isUnison(landing.move)) return worst;
    return 1 - heldString(landing.move);
}

Cents targetOf(const Landing& landing) {
    const auto counts = stringThatCounts(landing);
    if (!counts) return Cents(100.0 * landing.move.to.value);
    return Cents(100.0 * stringsOf(landing.move)[*counts].to.value) + landing.strings[*counts].target;
}

void sumUpStrings(Landing& landing, Cents aim, std::span<const std::string> names) {
    takeWorst(landing, aim);
    landing.verdict = verdictOf(landing);
    landing.sentence = sentenceOf(landing, aim, names);
}

}  // namespace landfall
