// gesture_table [TRIES [KIND]] [--seed N]: what the Listener says of seeded simulated tries of every kind against what
// was really played, as Markdown; then what the follower says of gestures that stand among other notes (line_gestures).
// TRIES at each of six places (default 4); only the kinds whose name contains KIND; N
// (default 100) chooses the tries. The rules were tuned on seeds from 100: a change is judged on others.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>
#include <random>
#include <span>
#include <string>
#include <tuple>
#include <vector>

#include <fmt/core.h>

#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "src/practice/tally.h"
#include "src/practice/verdict.h"
#include "tests/bench/line_gestures.h"
#include "tests/support/effects.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;
// cents: finer than that nothing is graded, so that a word's border may fall to either side
constexpr double close = 3.0;
constexpr std::array<NeckPlace, 6> places{{{1, 8}, {2, 8}, {2, 10}, {3, 7}, {3, 9}, {4, 7}}};
constexpr std::array<int, 6> openStrings{64, 59, 55, 50, 45, 40};

// What one try must be told to be.
using Right = std::function<bool(const std::vector<Landing>&, const MoveTruth&)>;

struct Kind {
    std::string name;
    std::vector<std::pair<Gesture, std::array<int, 2>>> steps;  // from and to, in frets above the place
    PlayerWish wish{};
    Right right{};  // beside the word and the cents
    double gain = 0.0;
    double error = 14.0;   // spread of the errors played, cents
    bool asHeard = false;  // the Listener is not told whether to expect a bend or a slide
    std::array<NeckPlace, 6> at = places;
    bool level = false;     // what the move kept of the level must be told to 1 dB
    std::string through{};  // an effect's name
};

bool says(const Landing& landing, std::string_view words) { return landing.sentence.find(words) != std::string::npos; }

Verdict bandOf(double cents) {
    const VerdictConfig bands;
    const double size = std::abs(cents);
    return size <= bands.deadOn   ? Verdict::deadOn
           : size <= bands.inTune ? Verdict::inTune
           : size <= bands.near   ? Verdict::near
           : cents < 0            ? Verdict::under
                                  : Verdict::over;
}

bool wordFits(const Landing& landing, const MoveTruth& truth) {
    const double marked = truth.corrected ? truth.firstStopError->value : truth.landingError->value;
    return landing.verdict == bandOf(marked) || landing.verdict == bandOf(marked - close)
           || landing.verdict == bandOf(marked + close);
}

bool landedAs(const std::vector<Landing>& said, const MoveTruth& truth) {
    return !said.empty() && said.back().landingError && wordFits(said.back(), truth);
}

Right word(Verdict verdict) {
    return [verdict](const std::vector<Landing>& said, const MoveTruth&) {
        return !said.empty() && said.back().verdict == verdict;
    };
}

// Tries that did not arrive, as untidy as hands are. Each must be told, and as none that landed.
void addFailures(std::vector<Kind>& list) {
    const Right told = [](const std::vector<Landing>& said, const MoveTruth&) {
        if (said.empty()) return false;
        const Verdict verdict = said.back().verdict;
        return verdict == Verdict::died || verdict == Verdict::otherInterval || verdict == Verdict::wrongFret
               || verdict == Verdict::under;
    };
    constexpr std::array<std::pair<Failing, const char*>, 6> ways{{{Failing::damped, "damped half way"},
                                                                   {Failing::early, "given up early"},
                                                                   {Failing::late, "given up late"},
                                                                   {Failing::letDown, "let down again"},
                                                                   {Failing::gaveUp, "stopped short"},
                                                                   {Failing::faded, "faded on the way"}}};
    struct Sound {
        const char* name;
        const char* effect;
        double gain;
    };
    for (const Sound& sound :
         {Sound{"", "", 0.0}, {", gain", "", 20.0}, {", gate", "gate", 0.0}, {", room", "room", 0.0}})
        for (const auto& [failing, words] : ways)
            for (const auto& [gesture, far, name] :
                 {std::tuple{Gesture::bend, 2, "full step"}, {Gesture::slide, 5, "slide of five"}})
                list.push_back({.name = fmt::format("failed: {} {}{}", name, words, sound.name),
                                .steps = {{gesture, {0, far}}},
                                .wish = {.played = Played::died, .failing = failing},
                                .right = told,
                                .gain = sound.gain,
                                .error = 0.0,
                                .through = sound.effect});
}

std::vector<Kind> kinds() {
    using enum Gesture;
    const Right within = [](const std::vector<Landing>& said, const MoveTruth& truth) {
        return landedAs(said, truth) && !said.back().correction && !says(said.back(), "Overshot")
               && !says(said.back(), "too far");
    };
    const auto bent = [](double from, double to) {
        return PlayerWish{.firstStopError = Cents(from), .correctedError = Cents(to), .played = Played::landed};
    };
    std::vector<Kind> list{
        {"half-step bend", {{bend, {0, 1}}}, {}, within},
        {"full-step bend", {{bend, {0, 2}}}, {}, within},
        {"step-and-a-half bend", {{bend, {0, 3}}}, {}, within},
        {"two-step bend", {{bend, {0, 4}}}, {}, within},
        {"full step, fast (0.1 s)", {{bend, {0, 2}}}, {.rise = Seconds(0.1)}, within},
        {"full step, slow (0.8 s)", {{bend, {0, 2}}}, {.rise = Seconds(0.8)}, within},
        {"full step, gain", {{bend, {0, 2}}}, {}, within, 20.0},
        {"bend and release", {{bend, {0, 2}}, {release, {2, 0}}}, {}, within, 0.0, 5.0},
        {"pre-bend", {{preBend, {0, 2}}}, {}, within},
        {"pre-bend and release", {{preBend, {0, 2}}, {release, {2, 0}}}, {}, within, 0.0, 5.0},
        {"slide, one fret", {{slide, {0, 1}}}, {}, within, 0.0, 2.0},
        {"slide, five frets", {{slide, {0, 5}}}, {}, within, 0.0, 2.0},
        {"slide, fast (15 ms a fret)", {{slide, {0, 5}}}, {.rise = Seconds(0.075)}, within, 0.0, 2.0},
        {"slide, slow (0.15 s a fret)", {{slide, {0, 5}}}, {.rise = Seconds(0.75)}, within, 0.0, 2.0},
        {"slide, octave", {{slide, {0, 12}}}, {}, within, 0.0, 2.0},
        {"slide, five down", {{slide, {5, 0}}}, {}, within, 0.0, 2.0},
        {"slide, five frets, gain", {{slide, {0, 5}}}, {}, within, 20.0, 2.0},
        {"plain note", {{note, {0, 0}}}, {}, within, 0.0, 4.0},
        {"vibrato on a note",
         {{vibrato, {0, 0}}},
         {},
         [](const auto& said, const MoveTruth& truth) {
             return !said.empty() && said.back().vibrato && truth.vibrato
                    && std::abs(said.back().vibrato->rate.value - truth.vibrato->rate.value) < 0.4
                    && std::abs(said.back().vibrato->width.value - truth.vibrato->width.value) < 6.0;
         },
         0.0,
         4.0},
        {"full step, then vibrato",
         {{bend, {0, 2}}},
         {.vibrato = true},
         [](const auto& said, const MoveTruth& truth) {
             return landedAs(said, truth) && said.back().vibrato && truth.vibrato
                    && std::abs(said.back().vibrato->top.value - truth.vibrato->top.value) < 6.0;
         }},
        {"first stop pulled in",
         {{bend, {0, 2}}},
         bent(-26.0, -2.0),
         [](const auto& said, const MoveTruth& truth) {
             return landedAs(said, truth) && says(said.back(), "then corrected it");
         }},
        {"overshoot, settled",
         {{bend, {0, 2}}},
         {.overshoot = Cents(35.0)},
         [](const auto& said, const MoveTruth& truth) {
             return landedAs(said, truth) && !said.back().correction && said.back().overshoot
                    && std::abs(said.back().overshoot->value - truth.overshoot->value) < 8.0;
         },
         0.0,
         5.0},
        {"slide a fret past and back",
         {{slide, {0, 5}}},
         {.slideOvershoot = 1},
         [](const auto& said, const MoveTruth&) {
             return !said.empty() && says(said.back(), "You slid 1 fret too far");
         },
         0.0,
         2.0},
        {"sank at the end",
         {{bend, {0, 2}}},
         {.sag = Cents(30.0)},
         [](const auto& said, const MoveTruth& truth) { return landedAs(said, truth) && says(said.back(), "sank"); },
         0.0,
         3.0},
        {"lingered before the slide",
         {{slide, {0, 2}}},
         {.linger = Seconds(1.3)},
         [](const auto& said, const MoveTruth& truth) {
             return landedAs(said, truth) && says(said.back(), "left the first one");
         },
         0.0,
         2.0},
        {"picked twice", {{bend, {0, 2}}}, {.doubleStroke = true}, within},
        {"half step played for a full one",
         {{bend, {0, 2}}},
         {.played = Played::otherInterval},
         word(Verdict::otherInterval),
         0.0,
         8.0},
        {"full step played for a half one",
         {{bend, {0, 1}}},
         {.played = Played::otherInterval},
         word(Verdict::otherInterval),
         0.0,
         8.0},
        {"full step stopped half way, held",
         {{bend, {0, 2}}},
         {.firstStopError = Cents(-95.0), .played = Played::landed, .hold = Seconds(0.5)},
         [](const auto& said, const MoveTruth&) {
             return !said.empty()
                    && (said.back().verdict == Verdict::otherInterval || said.back().verdict == Verdict::under);
         }},
        {"wrong fret",
         {{slide, {0, 5}}},
         {.played = Played::wrongFret},
         [](const auto& said, const MoveTruth& truth) {
             return !said.empty() && said.back().verdict == Verdict::wrongFret
                    && said.back().landedFret == truth.landedFret;
         },
         0.0,
         2.0},
    };
    for (const auto& [name, gesture, far, gain] : {std::tuple{"full-step bend, level kept", bend, 2, 0.0},
                                                   {"slide, five frets, level kept", slide, 5, 0.0},
                                                   {"slide, octave, level kept", slide, 12, 0.0},
                                                   {"slide, octave, level kept, gain", slide, 12, 20.0}})
        list.push_back({name,
                        {{gesture, {0, far}}},
                        {},
                        [](const auto& said, const MoveTruth&) { return !said.empty() && said.back().levelKept; },
                        gain,
                        2.0,
                        false,
                        places,
                        true});
    // The open neighbour is struck along with the bend, as loud: the next higher string, of the highest the next lower.
    const auto ringing = [&](const char* away, std::array<NeckPlace, 6> at, double gain) {
        list.push_back({fmt::format("two strings, the other a {}{}", away, gain > 0.0 ? ", gain" : ""),
                        {{bend, {0, 2}}},
                        {.played = Played::twoStrings},
                        word(Verdict::twoStrings),
                        gain,
                        14.0,
                        false,
                        at});
    };
    for (const double gain : {0.0, 20.0}) {
        ringing("third below", {{{2, 8}, {2, 9}, {3, 7}, {3, 8}, {4, 8}, {4, 9}}}, gain);
        ringing("fourth below", {{{2, 10}, {3, 9}, {4, 10}, {5, 10}, {2, 10}, {3, 9}}}, gain);
        ringing("fifth below", {{{2, 12}, {3, 11}, {4, 12}, {5, 12}, {2, 12}, {3, 11}}}, gain);
        ringing("third above", {{{2, 1}, {2, 2}, {3, 1}, {4, 1}, {4, 2}, {5, 1}}}, gain);
        ringing("whole tone or a ninth away", {{{1, 8}, {4, 7}, {3, 6}, {2, 7}, {1, 7}, {1, 9}}}, gain);
    }
    // Told from the sound what was played.
    const Right told = [](const std::vector<Landing>& said, const MoveTruth& truth) {
        return landedAs(said, truth) && said.back().move.gesture == truth.move.gesture;
    };
    for (const double gain : {0.0, 20.0}) {
        const auto unnamed = [&](const char* name, Gesture gesture, std::array<int, 2> frets, PlayerWish wish) {
            list.push_back({fmt::format("{}, told{}", name, gain > 0.0 ? ", gain" : ""),
                            {{gesture, frets}},
                            wish,
                            told,
                            gain,
                            gesture == slide ? 2.0 : 14.0,
                            true});
        };
        unnamed("half-step bend", bend, {0, 1}, {});
        unnamed("full-step bend", bend, {0, 2}, {});
        unnamed("full step, fast (0.1 s)", bend, {0, 2}, {.rise = Seconds(0.1)});
        unnamed("full step, slow (0.8 s)", bend, {0, 2}, {.rise = Seconds(0.8)});
        unnamed("two-step bend", bend, {0, 4}, {});
        unnamed("slide, one fret", slide, {0, 1}, {});
        unnamed("slide, two frets", slide, {0, 2}, {});
        unnamed("slide, two frets, fast (15 ms a fret)", slide, {0, 2}, {.rise = Seconds(0.03)});
        unnamed("slide, two frets, slow (0.15 s a fret)", slide, {0, 2}, {.rise = Seconds(0.3)});
        unnamed("slide, two down", slide, {2, 0}, {});
        unnamed("slide, four frets", slide, {0, 4}, {});
    }
    // A student who looks for the pitch slowly. Last, so that the kinds above keep their seeds.
    list.push_back({"half step in 1 s", {{bend, {0, 1}}}, {.rise = Seconds(1.0), .hold = Seconds(1.0)}, within});
    list.push_back({"half step in 2 s", {{bend, {0, 1}}}, {.rise = Seconds(2.0), .hold = Seconds(1.0)}, within});
    list.push_back({"full step in 2 s", {{bend, {0, 2}}}, {.rise = Seconds(2.0), .hold = Seconds(1.0)}, within});
    list.push_back({"full step in 3 s", {{bend, {0, 2}}}, {.rise = Seconds(3.0), .hold = Seconds(1.0)}, within});
    list.push_back({"release in 2 s",
                    {{bend, {0, 2}}, {release, {2, 0}}},
                    {.rise = Seconds(2.0), .hold = Seconds(1.0)},
                    within,
                    0.0,
                    5.0});
    list.push_back(
        {"half step in 2 s, gain", {{bend, {0, 1}}}, {.rise = Seconds(2.0), .hold = Seconds(1.0)}, within, 20.0});
    list.push_back(
        {"full step in 2 s, gain", {{bend, {0, 2}}}, {.rise = Seconds(2.0), .hold = Seconds(1.0)}, within, 20.0});
    list.push_back({"full step in 1 s", {{bend, {0, 2}}}, {.rise = Seconds(1.0), .hold = Seconds(1.0)}, within});
    list.push_back({"half step in 2 s, then vibrato",
                    {{bend, {0, 1}}},
                    {.rise = Seconds(2.0), .hold = Seconds(1.0), .vibrato = true},
                    within});
    addFailures(list);
    // As slow as one can: from leaving the note to rest, which leaves out the slow ends of the way.
    const Right timed = [within](const std::vector<Landing>& said, const MoveTruth& truth) {
        if (!within(said, truth) || !said.back().riseTime) return false;
        const double share = said.back().riseTime->value / truth.riseTime->value;
        return share > 0.75 && share < 1.05;
    };
    for (const auto& [name, semitones, seconds, gain] : {std::tuple{"half step in 4 s", 1, 4.0, 0.0},
                                                         {"half step in 6 s", 1, 6.0, 0.0},
                                                         {"full step in 5 s", 2, 5.0, 0.0},
                                                         {"half step in 4 s, gain", 1, 4.0, 20.0}})
        list.push_back({.name = std::string("as slow: ") + name,
                        .steps = {{bend, {0, semitones}}},
                        .wish = {.rise = Seconds(seconds), .hold = Seconds(1.0)},
                        .right = timed,
                        .gain = gain});
    return list;
}

struct Row {
    int tries = 0, right = 0, unsaid = 0, measured = 0, held = 0;
    int early = 0, otherWord = 0;  // tries of which something was said while they sounded; contradicted at their end
    std::vector<double> errors, late, earlyLate, earlyCents;
    std::map<std::string, int> wrong;
    void add(const Row& other);
};

void Row::add(const Row& other) {
    tries += other.tries, right += other.right, unsaid += other.unsaid, measured += other.measured, held += other.held;
    early += other.early, otherWord += other.otherWord;
    const auto append = [](std::vector<double>& to, const std::vector<double>& from) {
        to.insert(to.end(), from.begin(), from.end());
    };
    append(errors, other.errors), append(late, other.late), append(earlyLate, other.earlyLate),
        append(earlyCents, other.earlyCents);
}

std::string quantile(std::vector<double> values, double share, int digits) {
    if (values.empty()) return "–";
    std::sort(values.begin(), values.end());
    const auto at = std::min(values.size() - 1, static_cast<std::size_t>(share * static_cast<double>(values.size())));
    return fmt::format("{:.{}f}", values[at], digits);
}

std::vector<Move> movesOf(const Kind& kind, NeckPlace place) {
    std::vector<Move> moves;
    const double open = openStrings[static_cast<std::size_t>(place.string - 1)];
    for (const auto& [gesture, frets] : kind.steps) {
        Move move{gesture, MidiPitch(open + place.fret + frets[0]), MidiPitch(open + place.fret + frets[1]), place,
                  std::nullopt};
        if (gesture == Gesture::slide) {
            move.place->fret += frets[0];
            move.targetFret = place.fret + frets[1];
        }
        moves.push_back(move);
    }
    return moves;
}

struct Heard {
    std::vector<float> sound;
    std::vector<TryEnded> ended;
    std::vector<ProvisionalLanding> early;
    std::vector<FinalLanding> final;
};

Heard listen(SimulatedPlayer& player, const std::vector<Move>& moves, const std::string& effect) {
    Heard heard;
    heard.sound.resize(static_cast<std::size_t>((player.queued().value + 0.6) * rate));
    player.read(heard.sound);
    if (!effect.empty())
        heard.sound = through(*std::ranges::find(effects(), effect, &Effect::name), {heard.sound, {}}, 1).samples;
    Listener listener({.sampleRate = rate});
    listener.setMoves(moves, MoveOrder::everyTry);
    const auto keep = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) {
            if (const auto* one = std::get_if<TryEnded>(&event)) heard.ended.push_back(*one);
            if (const auto* one = std::get_if<FinalLanding>(&event)) heard.final.push_back(*one);
            if (const auto* one = std::get_if<ProvisionalLanding>(&event)) heard.early.push_back(*one);
        }
    };
    for (std::size_t at = 0; at < heard.sound.size(); at += 480)
        keep(listener.process(std::span(heard.sound).subspan(at, std::min<std::size_t>(480, heard.sound.size() - at))));
    keep(listener.finish());
    return heard;
}

// What a move kept of the level: the sound's own power in the tenth of a second after the true arrival over that before
// the hand left.
double levelKept(const Heard& heard, const MoveTruth& truth) {
    const auto power = [&heard](double from) {
        double sum = 0.0;
        const auto first = heard.sound.begin() + static_cast<std::ptrdiff_t>(from * rate);
        std::for_each(first, first + static_cast<std::ptrdiff_t>(0.1 * rate),
                      [&sum](float x) { sum += static_cast<double>(x) * static_cast<double>(x); });
        return sum;
    };
    return 10.0 * std::log10(power(truth.arrival->value) / power(truth.arrival->value - truth.riseTime->value - 0.1));
}

// Whether what was said first is not what is said when the note is over.
bool contradicts(const Landing& early, const Landing& last) {
    const VerdictConfig config;
    const std::string word = firstWord(early, config);
    if (early.verdict > Verdict::over || last.verdict > Verdict::over) return word != firstWord(last, config);
    const bool inside = isInside(last, Cents(config.aim));
    const std::string side = saidError(last, Cents(config.aim)).value < 0.0 ? "under" : "over";
    if (word == "good") return !inside;
    return word == "under" || word == "over" ? inside || word != side : !inside && word != "just " + side;
}

void mark(const Kind& kind, const Heard& heard, const MoveTruth& truth, Row& row) {
    const auto ofThisTry = [&](const Landing& landing) {
        return landing.onset.value > truth.onset.value - 0.1 && landing.onset.value < truth.end.value
               && landing.moveNumber == truth.moveNumber;
    };
    std::vector<Landing> said;
    double over = 1e9;
    for (const TryEnded& one : heard.ended) {
        if (!ofThisTry(one.landing)) continue;
        said.push_back(one.landing);
        over = one.at.value;
    }
    ++row.tries;
    const bool right = said.size() <= 1 && kind.right(said, truth)
                       && (!kind.level || std::abs(said.back().levelKept->value - levelKept(heard, truth)) < 1.0);
    if (kind.level && !right && !said.empty() && said.back().levelKept)
        ++row.wrong[fmt::format("{:.1f} dB for {:.1f}", said.back().levelKept->value, levelKept(heard, truth))];
    row.right += right;
    row.unsaid += said.empty();
    if (!right && !kind.level) ++row.wrong[said.empty() ? "nothing said" : said.back().sentence];
    // The player's truth for a vibrato is the steady note before it, the judge's landing its middle: no error to speak
    // of.
    if (!said.empty() && said.back().landingError && truth.landingError && truth.played != Played::twoStrings
        && truth.move.gesture != Gesture::vibrato) {
        const double error = said.back().landingError->value - truth.landingError->value;
        row.errors.push_back(std::abs(error));
        row.late.push_back(1000.0 * std::abs(said.back().landingTime->value - truth.arrival->value));
        ++row.measured;
        row.held += std::abs(error) <= 1.645 * said.back().sd->value;
    }
    const auto early = std::ranges::find_if(heard.early, ofThisTry, &ProvisionalLanding::landing);
    const auto final = std::ranges::find_if(heard.final, ofThisTry, &FinalLanding::landing);
    const bool told = early != heard.early.end(), stood = final != heard.final.end() && final->at.value < over;
    const auto stays = [&said](const Landing& word) { return !said.empty() && !contradicts(word, said.back()); };
    row.early += told || stood;
    row.otherWord += (told && !stays(early->landing)) || (stood && !stays(final->landing));
    if (told) row.earlyLate.push_back(1000.0 * (early->at - early->landing.landingTime.value()).value);
    if (told && final != heard.final.end())
        row.earlyCents.push_back(std::abs((*early->landing.firstStopError - *final->landing.firstStopError).value));
}

void print(const std::string& name, const Row& row) {
    std::string wrong;
    for (const auto& [sentence, count] : row.wrong)
        if (wrong.size() < 150) wrong += fmt::format("{}{} × {}", wrong.empty() ? "" : "; ", count, sentence);
    fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |\n", name, row.tries, row.right,
               quantile(row.errors, 0.5, 2), quantile(row.errors, 0.95, 2),
               row.measured ? fmt::format("{:.0f}", 100.0 * row.held / row.measured) : "–", quantile(row.late, 0.5, 0),
               quantile(row.late, 0.95, 0), quantile(row.earlyLate, 0.5, 0),
               row.early ? fmt::format("{} of {}", row.otherWord, row.early) : "–", quantile(row.earlyCents, 0.95, 1),
               wrong);
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<std::string> words(argv + 1, argv + argc);
    std::uint32_t seed = 100;
    if (const auto named = std::find(words.begin(), words.end(), "--seed");
        named != words.end() && named + 1 != words.end()) {
        seed = static_cast<std::uint32_t>(std::strtoul((named + 1)->c_str(), nullptr, 10));
        words.erase(named, named + 2);
    }
    const int tries = words.empty() ? 4 : std::max(1, std::atoi(words[0].c_str()));
    const std::string only = words.size() > 1 ? words[1] : "";
    fmt::print(
        "| kind | tries | right | landing error ¢ med | p95 | in 90 % interval, % | arrival ms med | p95 | first word "
        "after ms | contradicted | ¢ apart p95 | wrong |\n"
        "|---|---|---|---|---|---|---|---|---|---|---|---|\n");
    Row all;
    for (const Kind& kind : kinds()) {
        ++seed;
        if (kind.name.find(only) == std::string::npos) continue;
        Row row;
        for (std::size_t p = 0; p < kind.at.size(); ++p) {
            const auto moves = movesOf(kind, kind.at[p]);
            std::mt19937 random(seed * 31 + static_cast<std::uint32_t>(p));
            const auto draw = [&random] { return static_cast<double>(random()) / 4294967296.0; };
            PlayerSkill skill = noor();  // a steady hand: what goes wrong is what the kind says
            skill.correctionChance = skill.overshootChance = skill.wrongFretChance = skill.otherIntervalChance =
                skill.diedChance = skill.doubleStrokeChance = 0.0;
            SimulatedPlayer::Config student;
            student.seed = seed * 17 + static_cast<std::uint32_t>(p);
            student.skill = skill;
            student.gain = kind.gain;
            SimulatedPlayer player(student);
            player.rest(Seconds(0.5));
            for (int i = 0; i < tries; ++i) {
                PlayerWish wish = kind.wish;
                if (!wish.played) wish.played = Played::landed;
                if (!wish.firstStopError)
                    wish.firstStopError = Cents(kind.error * 2.0 * (draw() + draw() + draw() - 1.5));
                player.play(moves, wish);
                player.rest(Seconds(0.6));
            }
            std::vector<Move> asked = moves;
            for (Move& move : asked) move.asHeard = kind.asHeard;
            const Heard heard = listen(player, asked, kind.through);
            for (const MoveTruth& truth : player.truths())
                if (truth.moveNumber == static_cast<int>(moves.size())) mark(kind, heard, truth, row);
        }
        print(kind.name, row);
        all.add(row);
    }
    print("**all**", all);
    printLineGestures(tries, seed, only);
}
