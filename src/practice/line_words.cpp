#include "src/practice/line_words.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/practice/landing_judge.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

// A pulse is known to about 30 ms, and a listener hears a note beside its beat from about as much again.
constexpr double lateTold = 0.060;    // s
constexpr double lingerTold = 0.020;  // s beyond what may be; a stroke is known to so much
// s; shorter than that the first note of a slide is heard as its beginning, longer as a note of its own
constexpr double heardAsNote = 0.120;
constexpr std::size_t mostLines = 6;

// In the order in which they are to be mended.
enum class Fault { wrongNote, missed, died, error, lingered, late, waited };

struct Failed {
    std::size_t move = 0;
    Fault fault = Fault::missed;
    double size = 0.0;  // of an error or a delay
    std::string words;
};

// Where the hand makes the pitch; a hint by its top, because it goes on at once.
std::optional<double> errorOf(const LineMove& asked, const LineMark& mark) {
    if (!kindOf(asked.move.gesture).bends || mark.outcome != Outcome::landed) return std::nullopt;
    if (mark.sd && mark.sd->value > JudgeConfig{}.mostDoubt) return std::nullopt;
    const auto& error =
        asked.move.gesture != Gesture::hint && mark.firstStopError ? mark.firstStopError : mark.landingError;
    if (!error) return std::nullopt;
    return asked.move.gesture == Gesture::hint ? hintOutside(asked, *error) : error->value;
}

// "D4 right, B4 12 under"
std::string stringWords(const LineMove& asked, const LineMark& mark, Cents aim) {
    std::string sentence = landingOf(mark, asked.move, aim).sentence;
    if (sentence.ends_with('.')) sentence.pop_back();
    return sentence;
}

// Without how they stand to each other.
std::string briefStringWords(const LineMove& asked, const LineMark& mark, Cents aim) {
    const std::string words = stringWords(asked, mark, aim);
    return words.substr(0, words.find(". "));
}

std::optional<Failed> failureOf(const LineMove& asked, const LineMark& mark, Cents aim) {
    const std::string place = placeOf(asked) + ": ", name = moveName(asked.move);
    Failed failed{.move = mark.move, .words = {}};
    if (!mark.strings.empty() && mark.outcome != Outcome::landed) {
        failed.fault = mark.outcome == Outcome::died ? Fault::died : Fault::wrongNote;
        failed.words = place + briefStringWords(asked, mark, aim);
        return failed;
    }
    switch (mark.outcome) {
        case Outcome::wrongNote:
            failed.fault = Fault::wrongNote;
            failed.words = place + (mark.heard ? noteName(*mark.heard) : "another note") + " in place of the " + name;
            return failed;
        case Outcome::missed: failed.words = place + "the " + name + " was not played"; return failed;
        case Outcome::died:
            failed.fault = Fault::died;
            failed.words = place + "the " + name + " died before it arrived";
            return failed;
        case Outcome::landed: break;
    }
    const auto error = errorOf(asked, mark);
    if (error && asked.move.gesture == Gesture::hint && *error != 0.0) {
        failed.fault = Fault::error;
        failed.size = std::abs(*error);
        failed.words =
            fmt::format("{}the hint went {:.0f} cents, {:g} to {:g} are asked", place,
                        100.0 * asked.move.width() + mark.landingError->value, asked.hint.least, asked.hint.most);
        return failed;
    }
    if (error && std::abs(*error) > aim.value) {
        failed.fault = Fault::error;
        failed.size = std::abs(*error);
        failed.words = !mark.strings.empty() ? place + briefStringWords(asked, mark, aim)
                                             : fmt::format("{}the {} stopped {:.0f} {}", place, name, failed.size,
                                                           *error < 0.0 ? "under" : "over");
        return failed;
    }
    if (asked.lingers && mark.lingered && *mark.lingered - *asked.lingers >= Seconds(lingerTold)) {
        failed.fault = Fault::lingered;
        failed.size = mark.lingered->value;
        failed.words = fmt::format("{}the {} stayed {:.2f} s on its first note", place, name, failed.size);
        return failed;
    }
    if (!mark.timing || std::abs(mark.timing->value) < lateTold) return std::nullopt;
    failed.fault = Fault::late;
    failed.size = std::abs(mark.timing->value);
    failed.words = fmt::format("{}the {} came {:.0f} ms {}", place, name, 1e3 * failed.size,
                               mark.timing->value > 0.0 ? "late" : "early");
    return failed;
}

std::vector<Failed> failuresOf(const Line& line, const LineMarks& marks, Cents aim) {
    std::vector<Failed> all;
    std::size_t played = marks.moves.size();
    while (played > 0 && marks.moves[played - 1].outcome == Outcome::missed) --played;
    for (std::size_t i = 0; i < played; ++i)
        if (auto failed = failureOf(line.moves[i], marks.moves[i], aim)) all.push_back(std::move(*failed));
    for (const Wait& wait : marks.waits) {
        const bool failed = std::ranges::any_of(all, [&](const Failed& each) { return each.move == wait.move; });
        if (failed || wait.move >= played) continue;
        all.push_back({.move = wait.move,
                       .fault = Fault::waited,
                       .size = wait.length.value,
                       .words = fmt::format("{}: you waited {:.1f} s before it", placeOf(line.moves[wait.move]),
                                            wait.length.value)});
    }
    std::ranges::stable_sort(all, {}, &Failed::move);
    if (marks.moves.size() - played == 1) all.push_back(*failureOf(line.moves[played], marks.moves[played], aim));
    if (marks.moves.size() - played > 1)
        all.push_back(
            {.move = played,
             .words = placeOf(line.moves[played])
                      + fmt::format(": from here on nothing was played, {} moves", marks.moves.size() - played)});
    return all;
}

// A hint is a range, a fret's cents are the guitar's, and a fall ends where it is heard last.
std::string landedWords(const LineMove& asked, const LineMark& mark) {
    const Gesture gesture = asked.move.gesture;
    std::string words = mark.landingError ? std::string(verdictName(mark.verdict)) : "landed";
    if (gesture == Gesture::hint && mark.landingError)
        words = fmt::format("went {:.0f} cents", 100.0 * asked.move.width() + mark.landingError->value);
    else if (gesture == Gesture::fall && mark.heard)
        words = fmt::format("fell {:.0f} frets", asked.move.from.value - mark.heard->value);
    else if (kindOf(gesture).overFrets) words = "right fret";
    if (mark.lingered && mark.lingered->value >= heardAsNote)
        words += fmt::format(", its first note for {:.2f} s", mark.lingered->value);
    return words;
}

std::string shareWords(const LineMarks& marks) {
    const auto landed =
        std::ranges::count_if(marks.moves, [](const LineMark& each) { return each.outcome == Outcome::landed; });
    std::string words = fmt::format("{} of {} landed", landed, marks.moves.size());
    if (!marks.extra.empty())
        words += fmt::format(", {} stroke{} too many", marks.extra.size(), marks.extra.size() == 1 ? "" : "s");
    return words + ".";
}

}  // namespace

std::string moveName(const Move& move) {
    if (!move.with.empty()) {
        std::vector<std::string> targets;
        for (const Move& string : stringsOf(move)) targets.push_back(noteName(string.to));
        const std::string notes = fmt::format("{}", fmt::join(targets, "+"));
        return move.gesture == Gesture::note ? notes : fmt::format("{} to {}", gestureName(move.gesture), notes);
    }
    switch (move.gesture) {
        case Gesture::bend: return intervalName(move.gesture, move.width());
        case Gesture::note:
        case Gesture::vibrato: return noteName(move.to);
        default: return std::string(gestureName(move.gesture));
    }
}

std::optional<Cents> ownAim(const LineMove& asked) {
    if (asked.move.gesture == Gesture::fall) return Cents(0.0);
    if (asked.move.gesture == Gesture::hint) return Cents(0.5 * (asked.hint.most - asked.hint.least));
    return std::nullopt;
}

// Where the hand makes the pitch a landing is told in cents; a fret's cents are the guitar's.
MoveShown shownOf(const LineMove& asked, const LineMark& mark, Cents aim) {
    const bool landed = mark.outcome == Outcome::landed, bends = kindOf(asked.move.gesture).bends;
    const bool hint = asked.move.gesture == Gesture::hint;
    MoveShown shown{.at = hint || !mark.firstStopError ? mark.landingError : mark.firstStopError};
    shown.lost = mark.outcome == Outcome::died || mark.outcome == Outcome::missed;
    // A note too short to be measured was there all the same.
    if (landed && !bends && !shown.at) shown.at = Cents(0.0);
    const bool good = !bends || !shown.at || (hint ? hintOutside(asked, *shown.at) == 0.0 : abs(*shown.at) <= aim);
    shown.inside = landed && good;
    if (mark.landingTime && mark.onset) shown.arrival = std::max(Seconds(0.0), *mark.landingTime - *mark.onset);
    if (mark.outcome == Outcome::died) shown.figure = "died";
    if (mark.outcome == Outcome::wrongNote && mark.heard) shown.figure = noteName(*mark.heard);
    if (landed && bends && shown.at)
        shown.figure =
            hint ? fmt::format("{:.0f}", 100.0 * asked.move.width() + shown.at->value) : signedCents(*shown.at);
    return shown;
}

std::string faultOf(const LineMove& asked, const LineMark& mark, Cents aim) {
    const auto failed = failureOf(asked, mark, aim);
    return failed ? failed->words : "";
}

std::string wordsOf(const LineMove& asked, const LineMark& mark) {
    if (!mark.strings.empty()) return stringWords(asked, mark, Cents(JudgeConfig{}.aim));
    switch (mark.outcome) {
        case Outcome::missed: return "not played";
        case Outcome::died: return "died before it arrived";
        case Outcome::wrongNote: return mark.heard ? "heard " + noteName(*mark.heard) : "another note";
        case Outcome::landed: return landedWords(asked, mark);
    }
    return "";
}

std::string placeOf(const LineMove& move) {
    if (move.bar == LineMove::noBar) return fmt::format("Move {:g}", move.count);
    return fmt::format("Bar {}, beat {:g}", move.bar, std::round(100.0 * move.count) / 100.0);
}

double hintOutside(const LineMove& asked, Cents landingError) {
    const double top = 100.0 * asked.move.width() + landingError.value;
    return std::min(0.0, top - asked.hint.least) + std::max(0.0, top - asked.hint.most);
}

PassWords wordsOf(const Line& line, const LineMarks& marks, Cents aim, std::optional<double> tempoAsked) {
    PassWords words{.share = shareWords(marks), .headline = {}, .failed = {}, .tempo = {}, .moves = {}, .first = {}};
    std::vector<Failed> failed = failuresOf(line, marks, aim);
    for (const Failed& each : failed) words.moves.push_back(each.move);
    // What was missed at the end is said as one.
    while (!words.moves.empty() && words.moves.back() + 1 < line.moves.size()
           && marks.moves[words.moves.back()].outcome == Outcome::missed
           && marks.moves[words.moves.back() + 1].outcome == Outcome::missed)
        words.moves.push_back(words.moves.back() + 1);
    const auto first = std::ranges::min_element(failed, [](const Failed& a, const Failed& b) {
        return a.fault != b.fault ? a.fault < b.fault : a.size > b.size;
    });
    if (first == failed.end()) {
        const bool bent =
            std::ranges::any_of(line.moves, [](const LineMove& each) { return kindOf(each.move.gesture).bends; });
        words.headline = bent ? fmt::format("All of it, every bend within {:.0f} cents", aim.value) : "All of it";
    } else {
        words.headline = first->words;
        words.first = first->move;
        failed.erase(first);
    }
    for (const Failed& each : failed)
        if (words.failed.size() < mostLines) words.failed.push_back(each.words);
    if (failed.size() > mostLines) words.failed.push_back(fmt::format("and {} more", failed.size() - mostLines));
    if (marks.tempo)
        words.tempo = fmt::format("Played at {:.0f}", *marks.tempo)
                      + (tempoAsked ? fmt::format("; {:.0f} asked.", *tempoAsked) : ".");
    return words;
}

}  // namespace landfall
