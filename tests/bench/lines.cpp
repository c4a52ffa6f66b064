// lines [FIRST LAST]: lines of random moves on sampled guitars, played with a player's mistakes, by each seed from FIRST
// to LAST (default 1 to 8): what the follower makes of them, as Markdown. Another truth than the tests': our own MIDI
// file of what was played, sounded by fluidsynth.
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/formats/midi_file.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_practice.h"
#include "tests/support/rendered_guitar.h"

using namespace landfall;

namespace {

struct Played {
    Line asked, played;
    std::vector<Outcome> truth;   // of each move asked
    std::vector<double> onsets;   // s; of each move that was played, else -1
    std::vector<double> strokes;  // s; all of them
    int extra = 0;
};

struct Figures {
    int moves = 0, classed = 0, extra = 0, extraTold = 0, extraFound = 0;
    int strokes = 0, strokesFound = 0, strokesFalse = 0;
    int words = 0, kept = 0;
    std::vector<double> errors, onsets;
};

// An amplifier at its limit: 20 times the loudest through tanh.
void drive(std::vector<float>& samples) {
    float loudest = 1e-6F;
    for (const float x : samples) loudest = std::max(loudest, std::abs(x));
    for (float& x : samples) x = 0.5F * std::tanh(20.0F * x / loudest);
}

constexpr double lead = 1.0;  // quarters of silence before a MIDI file's first beat

class Maker {
public:
    Maker(std::uint32_t seed, double tempo, bool mistakes)
        : random(seed), faulty(mistakes), secondsAQuarter(60.0 / tempo) {}

    Played line() {
        for (int i = 0; i < 24; ++i) next();
        made.asked.length = askedBeat;
        made.played.length = playedBeat;
        for (double bar = 0.0; bar < askedBeat; bar += 4.0) made.asked.barBegins.push_back(bar);
        made.asked.openStrings = made.played.openStrings = {MidiPitch(64), MidiPitch(59), MidiPitch(55),
                                                            MidiPitch(50), MidiPitch(45), MidiPitch(40)};
        return made;
    }

private:
    double share() { return std::uniform_real_distribution<double>()(random); }
    int upTo(int most) { return std::uniform_int_distribution<int>(0, most)(random); }

    void next() {
        const double length = share() < 0.5 ? 0.5 : 1.0;
        const int fret = 5 + upTo(7), string = 1 + upTo(3);
        const double pitch = std::vector<double>{64, 59, 55, 50}[static_cast<std::size_t>(string - 1)] + fret;
        LineMove move;
        move.move.place = NeckPlace{string, fret};
        move.beat = askedBeat;
        move.ends = askedBeat + length;
        move.move.from = move.move.to = MidiPitch(pitch);
        move.move.gesture = Gesture::note;
        if (length == 1.0 && share() < 0.35) {
            move.move.gesture = Gesture::bend;
            move.move.to = MidiPitch(pitch + 1 + upTo(1));
        }
        made.asked.moves.push_back(move);
        askedBeat += length;
        play(move, length);
    }

    void play(LineMove move, double length) {
        // Neighbours of a mistake are played right, so that each is somebody's.
        const bool may = faulty && rightSince >= 2 && made.asked.moves.size() < 22;
        const double chance = may ? share() : 1.0;
        rightSince = chance < 0.3 ? 0 : rightSince + 1;
        Outcome outcome = Outcome::landed;
        if (chance < 0.08) {
            made.truth.push_back(Outcome::missed);
            made.onsets.push_back(-1.0);
            playedBeat += length;
            return;
        }
        if (chance < 0.16) {
            const double off = share() < 0.5 ? 1.0 : -1.0;
            move.move.from = MidiPitch(move.move.from.value + off);
            move.move.to = MidiPitch(move.move.to.value + off);
            move.move.place->fret += static_cast<int>(off);
            outcome = Outcome::wrongNote;
        } else if (chance < 0.3) {
            LineMove stray = move;
            stray.move.gesture = Gesture::note;
            const int frets = 3 + upTo(2);
            stray.move.place->fret += frets;
            stray.move.from = stray.move.to = MidiPitch(move.move.from.value + frets);
            sound(stray, 0.5);
            ++made.extra;
        }
        made.truth.push_back(outcome);
        made.onsets.push_back((lead + playedBeat) * secondsAQuarter);
        sound(move, length);
    }

    void sound(LineMove move, double length) {
        move.beat = playedBeat;
        move.ends = playedBeat + length;
        made.played.moves.push_back(move);
        playedBeat += length;
        made.strokes.push_back((lead + move.beat) * secondsAQuarter);
    }

    std::mt19937 random;
    bool faulty;
    double secondsAQuarter;
    Played made;
    double askedBeat = 0.0, playedBeat = 0.0;
    int rightSince = 0;
};

// Every stroke that the marks tell of, of the moves and beside them, against those that were played.
void addStrokes(Figures& figures, const Played& truth, const LineMarks& marks) {
    constexpr double near = 0.05;  // s
    std::vector<double> told;
    for (const LineMark& mark : marks.moves)
        if (mark.onset) told.push_back(mark.onset->value);
    for (const Seconds extra : marks.extra) told.push_back(extra.value);
    figures.strokes += static_cast<int>(truth.strokes.size());
    for (const double stroke : truth.strokes) {
        const auto found = std::ranges::find_if(told, [&](double each) { return std::abs(each - stroke) < near; });
        if (found == told.end()) continue;
        ++figures.strokesFound;
        told.erase(found);
    }
    figures.strokesFalse += static_cast<int>(told.size());
}

void add(Figures& figures, const Played& truth, const LineMarks& marks) {
    for (std::size_t i = 0; i < truth.truth.size(); ++i) {
        const LineMark& mark = marks.moves[i];
        const bool there =
            truth.truth[i] == Outcome::missed || (mark.onset && std::abs(mark.onset->value - truth.onsets[i]) < 0.1);
        ++figures.moves;
        figures.classed += mark.outcome == truth.truth[i] && there;
        if (mark.outcome != Outcome::landed || truth.truth[i] != Outcome::landed || !there) continue;
        figures.errors.push_back(std::abs(mark.landingError->value));
        figures.onsets.push_back(1e3 * std::abs(mark.onset->value - truth.onsets[i]));
    }
    const int told = static_cast<int>(marks.extra.size());
    figures.extra += truth.extra;
    figures.extraTold += told;
    figures.extraFound += std::min(told, truth.extra);
    addStrokes(figures, truth, marks);
}

// The first word of each move while the line sounds, against what is told of it when the pass is over.
void addWords(Figures& figures, const Line& line, std::span<const float> samples) {
    LinePractice practice(line, 48000.0, standardA4);
    std::vector<std::optional<Outcome>> first(line.moves.size());
    const auto take = [&](std::span<const LineEvent> events) {
        for (const LineEvent& event : events) {
            if (const auto* told = std::get_if<MoveTold>(&event))
                if (auto& word = first[told->mark.move]; !word) word = told->mark.outcome;
            const auto* over = std::get_if<PassOver>(&event);
            if (over == nullptr) continue;
            for (const LineMark& mark : over->marks.moves) {
                if (!first[mark.move]) continue;
                ++figures.words;
                figures.kept += first[mark.move] == mark.outcome;
            }
            first.assign(first.size(), std::nullopt);
        }
    };
    for (std::size_t at = 0; at < samples.size(); at += 480)
        take(practice.process(samples.subspan(at, std::min<std::size_t>(480, samples.size() - at))));
    take(practice.finish());
}

std::string quantile(std::vector<double> values, double share) {
    if (values.empty()) return "–";
    std::sort(values.begin(), values.end());
    const auto at = static_cast<std::size_t>(share * static_cast<double>(values.size()));
    return fmt::format("{:.1f}", values[std::min(values.size() - 1, at)]);
}

}  // namespace

int main(int argc, char** argv) {
    const int first = argc > 1 ? std::atoi(argv[1]) : 1, last = argc > 2 ? std::atoi(argv[2]) : 8;
    fmt::print(
        "| tempo | player | sound | moves | classed % | landing med / p95 ¢ | onset med / p95 ms | extra found, told "
        "of | strokes found %, false | first words kept |\n|---|---|---|---|---|---|---|---|---|---|\n");
    for (const double tempo : {72.0, 120.0, 180.0, 360.0})
        for (const bool mistakes : {false, true})
            for (const std::string sound : {"dry", "room", "gain"}) {
                Figures figures;
                for (int seed = first; seed <= last; ++seed) {
                    const Played truth = Maker(static_cast<std::uint32_t>(seed), tempo, mistakes).line();
                    std::string why;
                    auto samples =
                        renderMidi(lineAsMidi(truth.played, tempo), why, sound == "room" ? Place::room : Place::line);
                    if (!samples) {
                        fmt::print(stderr, "{}\n", why);
                        return 1;
                    }
                    if (sound == "gain") drive(*samples);
                    LineListener listener(truth.asked, 48000.0, standardA4);
                    listener.process(*samples);
                    listener.finish();
                    add(figures, truth, listener.marks());
                    addWords(figures, truth.asked, *samples);
                }
                fmt::print(
                    "| {} | {} | {} | {} | {:.1f} | {} / {} | {} / {} | {}, {} of {} | {:.1f}, {} | {} of {} |\n",
                    tempo, mistakes ? "faulty" : "right", sound, figures.moves, 100.0 * figures.classed / figures.moves,
                    quantile(figures.errors, 0.5), quantile(figures.errors, 0.95), quantile(figures.onsets, 0.5),
                    quantile(figures.onsets, 0.95), figures.extraFound, figures.extraTold, figures.extra,
                    100.0 * figures.strokesFound / figures.strokes, figures.strokesFalse, figures.kept, figures.words);
                std::fflush(stdout);
            }
}
