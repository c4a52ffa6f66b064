// strokes [FIRST LAST]: pick strokes in connected playing, found and invented, by each seed from FIRST to LAST (default 1
// to 6), as Markdown. Lines of the simulated student and of recorded notes (Debian's freepats, laid one after another
// with gaps or overlaps), palm-muted ones among them; then what is no stroke: bends, vibrato, slides, fret noise, speech
// and hum. All through the follower, as a player is told.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "src/audio/simulated_player.h"
#include "src/formats/phrase_file.h"
#include "src/practice/line_listener.h"
#include "tests/support/string_sound.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;
using Sound = std::vector<float>;

struct Figures {
    int strokes = 0, found = 0, invented = 0;
    std::vector<double> off;  // ms
};

// An amplifier at its limit: 20 times the loudest through tanh.
void drive(Sound& samples) {
    float loudest = 1e-6F;
    for (const float x : samples) loudest = std::max(loudest, std::abs(x));
    for (float& x : samples) x = 0.5F * std::tanh(20.0F * x / loudest);
}

std::vector<double> toldStrokes(const Line& line, const Sound& sound) {
    LineListener listener(line, rate, standardA4);
    listener.process(sound);
    listener.finish();
    const LineMarks marks = listener.marks();
    std::vector<double> told;
    for (const LineMark& mark : marks.moves)
        if (mark.onset && line.moves[mark.move].picked) told.push_back(mark.onset->value);
    for (const Seconds extra : marks.extra) told.push_back(extra.value);
    return told;
}

void add(Figures& figures, std::vector<double> told, const std::vector<double>& strokes) {
    constexpr double near = 0.05;  // s
    figures.strokes += static_cast<int>(strokes.size());
    for (const double stroke : strokes) {
        const auto nearest = std::ranges::min_element(told, {}, [&](double each) { return std::abs(each - stroke); });
        if (nearest == told.end() || std::abs(*nearest - stroke) > near) continue;
        ++figures.found;
        figures.off.push_back(1e3 * std::abs(*nearest - stroke));
        told.erase(nearest);
    }
    figures.invented += static_cast<int>(told.size());
}

void print(const std::string& what, Figures figures) {
    std::ranges::sort(figures.off);
    const auto at = [&](double share) {
        return figures.off.empty()
                   ? 0.0
                   : figures.off[static_cast<std::size_t>(share * static_cast<double>(figures.off.size() - 1))];
    };
    fmt::print("| {} | {} | {:.1f} | {:.1f} | {:.1f} / {:.1f} |\n", what, figures.strokes,
               100.0 * figures.found / figures.strokes, 100.0 * figures.invented / figures.strokes, at(0.5), at(0.95));
    std::fflush(stdout);
}

// The notes of a patch in the format of the Gravis UltraSound (its layout: see recorded_guitar_test.cpp).
struct Note {
    double rate = 0.0, hertz = 0.0;
    Sound samples;
};
std::vector<Note> patch(const std::string& instrument) {
    std::ifstream file(std::filesystem::path(LANDFALL_FREEPATS) / (instrument + ".pat"), std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(file), {}};
    std::vector<Note> notes;
    if (bytes.size() < 239 || bytes.compare(0, 11, "GF1PATCH110") != 0) return notes;
    std::size_t at = 239;
    for (int left = bytes[129 + 63 + 6]; left > 0 && at + 96 <= bytes.size(); --left) {
        std::uint32_t length = 0, pitch = 0;
        std::uint16_t sampled = 0;
        std::memcpy(&length, bytes.data() + at + 8, 4);
        std::memcpy(&sampled, bytes.data() + at + 20, 2);
        std::memcpy(&pitch, bytes.data() + at + 30, 4);
        at += 96;
        if (at + length > bytes.size()) break;
        std::vector<std::int16_t> values(length / 2);
        std::memcpy(values.data(), bytes.data() + at, values.size() * 2);
        Note note{static_cast<double>(sampled), pitch / 1000.0, {}};
        for (const std::int16_t value : values) note.samples.push_back(static_cast<float>(value) / 32768.0F);
        notes.push_back(std::move(note));
        at += length;
    }
    return notes;
}

// At another pitch: read faster or slower, between two samples along a straight line.
void lay(Sound& all, const Note& note, double hertz, double begin, double end, double level) {
    const double step = note.rate / rate * hertz / note.hertz;
    const auto first = static_cast<std::size_t>(begin * rate), last = static_cast<std::size_t>(end * rate);
    for (std::size_t n = first; n < std::min(last, all.size()); ++n) {
        const double place = static_cast<double>(n - first) * step;
        const auto i = static_cast<std::size_t>(place);
        if (i + 1 >= note.samples.size()) break;
        const auto share = static_cast<float>(place - static_cast<double>(i));
        const double fade = std::min(1.0, static_cast<double>(last - n) / (0.015 * rate));
        all[n] +=
            static_cast<float>(level * fade) * (note.samples[i] + share * (note.samples[i + 1] - note.samples[i]));
    }
}

// Picked notes on four strings, repeats among them, at so many a second.
Line randomLine(std::mt19937& random) {
    Line line;
    for (int i = 0; i < 32; ++i) {
        LineMove move;
        const bool again = i > 0 && random() % 5 == 0;
        const int string = 1 + static_cast<int>(random() % 4), fret = 5 + static_cast<int>(random() % 8);
        move.move.gesture = Gesture::note;
        move.move.from = move.move.to =
            again ? line.moves.back().move.to
                  : MidiPitch(std::vector<double>{64, 59, 55, 50}[static_cast<std::size_t>(string - 1)] + fret);
        move.beat = i;
        move.ends = i + 1.0;
        line.moves.push_back(move);
        if (i % 4 == 0) line.barBegins.push_back(i);
    }
    line.length = 32.0;
    return line;
}

// The note before ends up to 100 ms before the next or sounds up to 30 ms into it.
Sound recorded(const Line& line, const std::vector<Note>& notes, double perSecond, std::mt19937& random,
               std::vector<double>& strokes) {
    Sound all(static_cast<std::size_t>((1.5 + line.length / perSecond) * rate));
    const auto share = [&] { return static_cast<double>(random() % 1000) / 1000.0; };
    for (const LineMove& move : line.moves) {
        const double hertz = frequencyOf(move.move.to).value, begin = 0.5 + move.beat / perSecond;
        const auto nearest = std::ranges::min_element(
            notes, {}, [&](const Note& note) { return std::abs(std::log(note.hertz / hertz)); });
        const double most = std::min(0.1, 0.4 / perSecond);
        lay(all, *nearest, hertz, begin, begin + 1.0 / perSecond + 0.03 - (0.03 + most) * share(), 0.5 + 0.4 * share());
        strokes.push_back(begin);
    }
    std::normal_distribution<float> hiss(0.0F, 5e-5F);
    for (float& x : all) x += hiss(random);
    return all;
}

void recordedRows(int first, int last) {
    if (std::string(LANDFALL_FREEPATS).empty()) return fmt::print("freepats is not installed: no recorded lines\n");
    for (const std::string instrument : {"024_Nylon_Guitar", "025_Steel_Guitar", "026_Jazz_Guitar",
                                         "027_Clean_Electric_Guitar", "028_Muted_Electric_Guitar"})
        for (const double perSecond : {3.0, 6.0, 12.0})
            for (const bool gain : {false, true}) {
                const std::vector<Note> notes = patch(instrument);
                if (notes.empty()) continue;
                Figures figures;
                for (int seed = first; seed <= last; ++seed) {
                    std::mt19937 random(static_cast<std::uint32_t>(seed));
                    const Line line = randomLine(random);
                    std::vector<double> strokes;
                    Sound sound = recorded(line, notes, perSecond, random, strokes);
                    if (gain) drive(sound);
                    add(figures, toldStrokes(line, sound), strokes);
                }
                print(fmt::format("{}, {:g} a second{}", instrument.substr(4), perSecond, gain ? ", gain" : ""),
                      figures);
            }
}

void simulatedRows(int first, int last) {
    for (const double gain : {0.0, 20.0}) {
        Figures figures;
        for (const char* title : {"lantern street", "rain on the awning", "two stairs down", "same line elsewhere"})
            for (int seed = first; seed <= last; ++seed) {
                const Line line = findPhrase(title)->line;
                PlayerSkill skill = noor();
                skill.mostGap = Seconds(0.1);
                SimulatedPlayer player(
                    {.sampleRate = rate, .seed = static_cast<std::uint32_t>(seed), .skill = skill, .gain = gain});
                player.rest(Seconds(0.6));
                player.play(line, line.tempo.value_or(90.0));
                player.rest(Seconds(1.0));
                Sound sound(static_cast<std::size_t>(player.queued().value * rate));
                player.read(sound);
                std::vector<double> strokes;
                for (const MoveTruth& truth : player.truths())
                    if (line.moves[static_cast<std::size_t>(truth.moveNumber - 1)].picked)
                        strokes.push_back(truth.onset.value);
                add(figures, toldStrokes(line, sound), strokes);
            }
        print(fmt::format("simulated student, four phrases{}", gain > 0.0 ? ", gain" : ""), figures);
    }
}

// One move, struck once: whatever else is told was none.
int inventedIn(const Move& move, std::uint32_t seed, double gain) {
    SimulatedPlayer player({.sampleRate = rate, .seed = seed, .skill = noor(), .gain = gain});
    player.rest(Seconds(0.4));
    player.play(move, {.played = Played::landed, .doubleStroke = false});
    player.rest(Seconds(1.0));
    Sound sound(static_cast<std::size_t>(player.queued().value * rate));
    player.read(sound);
    Line line;
    line.moves.push_back({.move = move});
    line.length = 1.0;
    line.barBegins = {0.0};
    return std::max(0, static_cast<int>(toldStrokes(line, sound).size()) - 1);
}

void noStrokes(int first, int last) {
    fmt::print("\n| no stroke | heard | strokes invented: clean | gain |\n|---|---|---|---|\n");
    for (const char* text : {"bend:D4:E4", "bend:G4:G#4", "pre-bend:D4:E4", "vibrato:D4:D4", "slide:C4:E4",
                             "slide:E4:C4", "slide:C4:C5"}) {
        int clean = 0, driven = 0;
        const int tries = 10 * (last - first + 1);
        for (int i = 0; i < tries; ++i) {
            const auto seed = static_cast<std::uint32_t>(100 * first + i);
            clean += inventedIn(*parseMove(text), seed, 0.0);
            driven += inventedIn(*parseMove(text), seed, 20.0);
        }
        fmt::print("| {} | {} tries | {} | {} |\n", text, tries, clean, driven);
    }
    const Line line = findPhrase("lantern street")->line;
    const double seconds = 60.0;
    const auto row = [&](const char* what, Sound sound) {
        const auto clean = toldStrokes(line, sound).size();
        drive(sound);
        fmt::print("| {} | {:.0f} s | {} | {} |\n", what, static_cast<double>(sound.size()) / rate, clean,
                   toldStrokes(line, sound).size());
        std::fflush(stdout);
    };
    row("speech, two voices", [&] {
        Sound both = speech(speakers()[0], 0.5 * seconds);
        const Sound other = speech(speakers()[1], 0.5 * seconds);
        both.insert(both.end(), other.begin(), other.end());
        return both;
    }());
    Sound hum(static_cast<std::size_t>(seconds * rate));
    for (std::size_t n = 0; n < hum.size(); ++n)
        for (const int k : {1, 2, 3, 5, 7})
            hum[n] += static_cast<float>(0.003 / k
                                         * std::sin(2.0 * std::numbers::pi * 50.0 * k * static_cast<double>(n) / rate));
    row("mains hum", hum);
    if (const auto noises = patch("120_Guitar_Fret_Noise"); !noises.empty()) {
        Sound all(static_cast<std::size_t>(seconds * rate));
        std::mt19937 random(5);
        for (double at = 0.5; at < seconds - 1.0; at += 0.5 + static_cast<double>(random() % 100) / 100.0) {
            const Note& noise = noises[random() % noises.size()];
            lay(all, noise, noise.hertz * (0.8 + 0.004 * static_cast<double>(random() % 100)), at, at + 1.0, 0.1);
        }
        row("fret noise, recorded", all);
    }
}

}  // namespace

int main(int argc, char** argv) {
    const int first = argc > 1 ? std::atoi(argv[1]) : 1, last = argc > 2 ? std::atoi(argv[2]) : 6;
    fmt::print("| lines | strokes | found % | invented % | off ms, median / p95 |\n|---|---|---|---|---|\n");
    simulatedRows(first, last);
    recordedRows(first, last);
    noStrokes(first, last);
}
