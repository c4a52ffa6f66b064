// shapes [--seed S] [--tries N] [--gain G] [--late S] [--loud] [NAME]: the simulated student plays shapes of two to six
// strings, well and with one fault at a time, clean and through gain (tanh of the strings' sum), and what the Listener said
// is held against what was drawn: tries found, strings surely right, not sure, and what is worse: a false claim.
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/audio/simulated_player.h"
#include "src/music/chord_move.h"
#include "src/practice/listener.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;
constexpr double rightWithin = 3.0, falseFrom = 10.0;  // cents from the truth: well measured; a false claim
constexpr double anotherFret = 50.0;                   // cents
constexpr double lateWithin = 0.03;                    // s from the truth: rightly told, since a strum takes as long

enum class Fault { none, wrongFret, wrongFretThroughout, silent, late, dragged };

struct Shape {
    const char* name;
    Gesture gesture;
    std::vector<NeckPlace> places;
    int up;
    std::size_t bent = mostStruckTogether;  // of a bend: the only one that moves
};

const std::vector<Shape>& shapes() {
    static const std::vector<Shape> all{
        {"two, struck", Gesture::note, {{4, 7}, {2, 8}}, 0},
        {"two, four frets", Gesture::slide, {{4, 2}, {2, 3}}, 4},
        {"two, one bent", Gesture::bend, {{3, 7}, {2, 8}}, 2, 0},
        {"three, struck", Gesture::note, {{4, 7}, {3, 7}, {2, 8}}, 0},
        {"three, five frets", Gesture::slide, {{4, 2}, {3, 2}, {2, 3}}, 5},
        {"four, two frets", Gesture::slide, {{4, 5}, {3, 7}, {2, 6}, {1, 8}}, 2},
        {"four, an octave", Gesture::slide, {{4, 3}, {3, 2}, {2, 3}, {1, 1}}, 12},
        {"five, two frets", Gesture::slide, {{5, 3}, {4, 5}, {3, 5}, {2, 5}, {1, 3}}, 2},
        {"six, two frets", Gesture::slide, {{6, 5}, {5, 7}, {4, 7}, {3, 6}, {2, 5}, {1, 5}}, 2},
        {"six, an octave", Gesture::slide, {{6, 3}, {5, 5}, {4, 5}, {3, 4}, {2, 3}, {1, 3}}, 12},
        {"six, struck", Gesture::note, {{6, 3}, {5, 5}, {4, 5}, {3, 4}, {2, 3}, {1, 3}}, 0},
        {"four, one bent", Gesture::bend, {{4, 7}, {3, 7}, {2, 8}, {1, 10}}, 2, 1}};
    return all;
}

std::vector<Move> stringsOf(const Shape& shape) {
    std::vector<Move> strings;
    for (std::size_t j = 0; j < shape.places.size(); ++j) {
        const NeckPlace place = shape.places[j];
        const MidiPitch from = pitchAt(Guitar{}, place);
        const bool moves = shape.gesture == Gesture::slide || j == shape.bent;
        const MidiPitch to(from.value + (moves ? shape.up : 0));
        strings.push_back({moves ? shape.gesture : Gesture::note, from, to, place, {}});
        if (moves && shape.gesture == Gesture::slide) strings.back().targetFret = place.fret + shape.up;
    }
    return strings;
}

struct Row {
    int tries = 0, found = 0, words = 0, good = 0, falselyGood = 0;
    int strings = 0, sure = 0, right = 0, off = 0, unsure = 0, saidSilent = 0;
    int faults = 0, told = 0, named = 0;
    int early = 0, falselyLate = 0;
    std::vector<double> late{}, apart{};
};

struct Asked {
    double gain = 0.0;
    unsigned seed = 1;
    int tries = 6;
    double lateBy = 0.15;  // s
    bool loud = false;
};

void judgeString(const StringLanding& said, const std::optional<Cents>& truth, bool isFaulty, Row& row) {
    if (!truth) {
        row.off += said.heard == StringHeard::yes;
        row.told += isFaulty && said.heard == StringHeard::no;
        return;
    }
    ++row.strings;
    const bool another = abs(*truth).value > anotherFret;
    row.unsure += said.heard == StringHeard::notSure;
    if (said.heard == StringHeard::no) {
        // another note that is told as a string that does not sound is no falsehood, but names nothing
        row.saidSilent += !another;
        row.told += another && isFaulty;
        return;
    }
    if (said.heard != StringHeard::yes || !said.landingError) return;
    ++row.sure;
    const double error = std::abs((*said.landingError - *truth).value);
    row.apart.push_back(error);
    row.right += error < rightWithin;
    row.off += error > falseFrom;
    if (isFaulty && another && abs(*said.landingError).value > anotherFret) {
        ++row.told;
        row.named += error < 20.0;
    }
}

// One try as it is to be played.
struct Try {
    std::vector<Move> fingers;
    PlayerWish wish{};
    std::optional<std::size_t> faulty{};
    double off = 1.0;  // half steps of a finger on a wrong fret
};

Try tryOf(const Shape& shape, Fault fault, unsigned seed, double lateBy) {
    Try made{stringsOf(shape)};
    std::size_t which = 1 + seed % (made.fingers.size() - 1);
    if (which == shape.bent) which = 0;  // the one that leads is always struck, and first
    made.off = seed % 2 == 0 ? 1.0 : -1.0;
    if (fault == Fault::wrongFret || fault == Fault::wrongFretThroughout) {
        made.faulty = which;
        Move& finger = made.fingers[which];
        finger.to = MidiPitch(finger.to.value + made.off);
        if (shape.gesture == Gesture::note || fault == Fault::wrongFretThroughout) {
            finger.from = MidiPitch(finger.from.value + made.off);
            finger.place->fret += static_cast<int>(made.off);
        }
        if (finger.targetFret) *finger.targetFret += static_cast<int>(made.off);
    }
    if (fault == Fault::silent) made.wish.silent = made.faulty = which;
    if (fault == Fault::dragged) made.wish.dragged = Cents(14.0);
    if (fault == Fault::late) made.wish.late = made.faulty = which, made.wish.lateBy = Seconds(lateBy);
    return made;
}

// What was said of it; the row learns how often and how soon.
std::vector<Landing> hear(SimulatedPlayer& player, const Move& move, const MoveTruth& truth, Row& row) {
    Listener listener({.sampleRate = rate, .aim = Cents(10.0), .stringNames = briefNames(Guitar{})});
    listener.setMoves({move}, MoveOrder::everyTry);
    std::vector<Landing> ended;
    bool said = false;
    const auto keep = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) {
            if (const auto* end = std::get_if<TryEnded>(&event)) ended.push_back(end->landing);
            const auto* final = std::get_if<FinalLanding>(&event);
            if (!final) continue;
            ++row.words;
            if (!said && truth.arrival) row.late.push_back((final->at - *truth.arrival).value);
            said = true;
        }
    };
    std::vector<float> block(512);
    while (player.queued().value > 0.0) {
        player.read(block);
        keep(listener.process(block));
    }
    keep(listener.finish());
    return ended;
}

void judge(const Landing& said, const Try& played, const MoveTruth& truth, Fault fault, Row& row) {
    if (said.landingTime && truth.arrival && (*said.landingTime - *truth.arrival).value < -0.1) ++row.early;
    bool anyOff = false;
    for (std::size_t j = 0; j < said.strings.size(); ++j) {
        auto drawn = truth.strings[j];
        if (const auto& late = said.strings[j].late) {
            row.falselyLate += played.wish.late != j;
            row.told += played.wish.late == j;
            row.named += played.wish.late == j && std::abs((*late - played.wish.lateBy).value) < lateWithin;
        }
        const bool wrong = fault == Fault::wrongFret || fault == Fault::wrongFretThroughout;
        if (drawn && played.faulty == j && wrong) *drawn = *drawn + Cents(100.0 * played.off);
        anyOff = anyOff || !drawn || abs(*drawn).value > 25.0;
        judgeString(said.strings[j], drawn, played.faulty == j && fault != Fault::late, row);
    }
    const bool good = said.sentence.starts_with("All right.") || said.sentence.starts_with("Both right.");
    row.good += good;
    row.falselyGood += good && anyOff;
    const bool pulled = said.sentence.find("pulled") != std::string::npos;
    if (fault == Fault::none) row.off += pulled;
    if (fault == Fault::dragged) row.told += pulled;
}

void play(const Shape& shape, Fault fault, const Asked& asked, Row& row) {
    for (int n = 0; n < asked.tries; ++n) {
        const unsigned seed = asked.seed + static_cast<unsigned>(n);
        const Try played = tryOf(shape, fault, seed, asked.lateBy);
        SimulatedPlayer::Config config{.sampleRate = rate, .seed = seed, .gain = asked.gain};
        config.skill.dragSpread = Cents(0.0);
        config.skill.setupSpread = Cents(5.0);
        config.skill.correctionChance = config.skill.missedChance = 0.0;
        SimulatedPlayer player(config);
        player.rest(Seconds(0.5));
        player.play(together(shape.gesture, played.fingers), played.wish);
        player.rest(Seconds(0.6));
        const MoveTruth truth = player.truths().front();
        const auto ended = hear(player, together(shape.gesture, stringsOf(shape)), truth, row);
        ++row.tries;
        row.faults += played.faulty || fault == Fault::dragged;
        if (ended.empty()) continue;
        ++row.found;
        if (asked.loud) fmt::print("    seed {}: {}\n", seed, ended.back().sentence);
        judge(ended.back(), played, truth, fault, row);
    }
}

void print(std::string_view name, const Row& row) {
    const auto part = [](std::vector<double> values, double share) {
        if (values.empty()) return 0.0;
        std::ranges::sort(values);
        return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
    };
    fmt::print(
        "{:<46} found {:>3} of {:>3} (early {}), words {:>3}, after {:.2f} / {:.2f} s; strings {:>3}: sure {:>3} "
        "({:.2f} / {:.2f}), not "
        "sure {:>3}; false {:>2}, said silent {:>2}; fault told {:>2} named {:>2} of {:>2}; good {:>2}, falsely "
        "{:>2}; falsely late {}\n",
        name, row.found, row.tries, row.early, row.words, part(row.late, 0.5), part(row.late, 0.95), row.strings,
        row.sure, part(row.apart, 0.5), part(row.apart, 0.95), row.unsure, row.off, row.saidSilent, row.told, row.named,
        row.faults, row.good, row.falselyGood, row.falselyLate);
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
    Asked asked;
    std::string only;
    std::vector<double> gains{0.0, 5.0, 10.0, 20.0};
    for (int i = 1; i < argc; ++i) {
        const std::string_view word = argv[i];
        const bool more = i + 1 < argc;
        if (word == "--loud") asked.loud = true;
        else if (word == "--seed" && more) asked.seed = static_cast<unsigned>(std::atoi(argv[++i]));
        else if (word == "--tries" && more) asked.tries = std::atoi(argv[++i]);
        else if (word == "--late" && more) asked.lateBy = std::atof(argv[++i]);
        else if (word == "--gain" && more) gains = {std::atof(argv[++i])};
        else only = word;
    }
    const std::vector<std::pair<const char*, Fault>> faults{{"well", Fault::none},
                                                            {"a finger on a wrong fret at the end", Fault::wrongFret},
                                                            {"a wrong fret throughout", Fault::wrongFretThroughout},
                                                            {"a string silent", Fault::silent},
                                                            {"a string late", Fault::late},
                                                            {"held strings dragged 14", Fault::dragged}};
    for (const double gain : gains) {
        asked.gain = gain;
        for (const Shape& shape : shapes())
            for (const auto& [words, fault] : faults) {
                if ((fault == Fault::dragged) != (shape.gesture == Gesture::bend) && fault != Fault::none) continue;
                if (fault == Fault::wrongFret && shape.gesture == Gesture::note) continue;
                const std::string name =
                    fmt::format("{}: {}{}", shape.name, words, gain > 0.0 ? fmt::format(", gain {:.0f}", gain) : "");
                if (name.find(only) == std::string::npos) continue;
                Row row;
                play(shape, fault, asked, row);
                print(name, row);
            }
    }
    return 0;
}
