// Takes of the simulated student that several tests, benchmarks and drawings share: named, seeded, with the truth
// known. Plain functions.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "src/audio/simulated_player.h"
#include "tests/support/students.h"

namespace landfall {

struct StudentTake {
    std::string name;
    std::vector<std::pair<Move, PlayerWish>> played;  // one after another, each under a stroke of its own
    std::uint32_t seed = 1;
    double gain = 0.0;          // tanh drive; 0: clean
    double noiseFloor = -74.0;  // dBFS

    std::vector<Move> moves() const {
        std::vector<Move> asked;
        for (const auto& [move, wish] : played) asked.push_back(move);
        return asked;
    }
};

struct TakeSound {
    std::vector<float> samples;
    std::vector<MoveTruth> truths;
};

// A bend, release, pre-bend or vibrato at a fret: from and to in semitones above it. A slide: in frets.
inline Move moveAt(Gesture gesture, NeckPlace place, double from, double to) {
    const double fretted = pitchAt(Guitar{}, place).value;
    Move move{gesture, MidiPitch(fretted + from), MidiPitch(fretted + to), place, std::nullopt};
    if (gesture == Gesture::slide) move.targetFret = place.fret + static_cast<int>(to);
    return move;
}

inline TakeSound soundOf(const StudentTake& take, double sampleRate = 48000.0) {
    SimulatedPlayer::Config config;
    config.sampleRate = sampleRate;
    config.seed = take.seed;
    config.skill = exactPlayer();
    config.gain = take.gain;
    config.noiseFloor = Decibels(take.noiseFloor);
    SimulatedPlayer player(config);
    player.rest(Seconds(0.6));
    for (const auto& [move, wish] : take.played) {
        player.play(move, wish);
        player.rest(Seconds(0.8));
    }
    TakeSound sound;
    sound.samples.resize(static_cast<std::size_t>((player.queued().value + 0.3) * sampleRate));
    player.read(sound.samples);
    sound.truths = player.truths();
    return sound;
}

// One of each gesture, on thin and thick strings, with the misses that students make; none of them is marginal, so that
// a verdict does not hang on the last bit.
inline std::vector<StudentTake> studentTakes() {
    const PlayerWish asPlayed{.played = Played::landed};
    const auto off = [](double cents) { return PlayerWish{.firstStopError = Cents(cents), .played = Played::landed}; };
    PlayerWish pulledIn = off(-27.0);
    pulledIn.correctedError = Cents(-2.0);
    pulledIn.hold = Seconds(1.6);
    PlayerWish shaken = off(4.0);
    shaken.vibrato = true;
    shaken.hold = Seconds(1.8);
    PlayerWish shotPast = asPlayed;
    shotPast.slideOvershoot = 1;
    PlayerWish lost = asPlayed;
    lost.played = Played::died;

    const NeckPlace b8{2, 8}, g7{3, 7}, d5{4, 5}, a3{5, 3}, lowE5{6, 5}, e12{1, 12};
    return {
        {.name = "full-steps",
         .played = {{moveAt(Gesture::bend, b8, 0, 2), off(-14.0)},
                    {moveAt(Gesture::bend, b8, 0, 2), off(3.0)},
                    {moveAt(Gesture::bend, g7, 0, 2), off(21.0)}},
         .seed = 3},
        {.name = "half-steps",
         .played = {{moveAt(Gesture::bend, e12, 0, 1), off(8.0)},
                    {moveAt(Gesture::bend, g7, 0, 1), off(-11.0)},
                    {moveAt(Gesture::bend, lowE5, 0, 1), off(2.0)}},
         .seed = 4},
        {.name = "pulled-in", .played = {{moveAt(Gesture::bend, b8, 0, 2), pulledIn}}, .seed = 5},
        {.name = "vibrato-on-a-bend", .played = {{moveAt(Gesture::bend, g7, 0, 2), shaken}}, .seed = 6},
        {.name = "slides",
         .played = {{moveAt(Gesture::slide, d5, 0, 2), asPlayed},
                    {moveAt(Gesture::slide, a3, 0, 12), asPlayed},
                    {moveAt(Gesture::slide, g7, 0, -2), asPlayed}},
         .seed = 7},
        {.name = "slide-that-overshoots", .played = {{moveAt(Gesture::slide, d5, 0, 5), shotPast}}, .seed = 8},
        {.name = "held-notes",
         .played = {{moveAt(Gesture::note, lowE5, 0, 0), asPlayed},
                    {moveAt(Gesture::note, e12, 0, 0), asPlayed},
                    {moveAt(Gesture::vibrato, g7, 0, 0), asPlayed}},
         .seed = 9},
        {.name = "pre-bends",
         .played = {{moveAt(Gesture::preBend, b8, 0, 2), off(-16.0)}, {moveAt(Gesture::preBend, g7, 0, 1), off(9.0)}},
         .seed = 10},
        {.name = "with-gain",
         .played = {{moveAt(Gesture::bend, b8, 0, 2), off(-19.0)}, {moveAt(Gesture::bend, g7, 0, 1), off(6.0)}},
         .seed = 11,
         .gain = 20.0},
        {.name = "in-noise",
         .played = {{moveAt(Gesture::bend, b8, 0, 2), off(12.0)}, {moveAt(Gesture::slide, d5, 0, 2), asPlayed}},
         .seed = 12,
         .noiseFloor = -50.0},
        {.name = "died",
         .played = {{moveAt(Gesture::bend, b8, 0, 2), lost}, {moveAt(Gesture::bend, b8, 0, 2), off(-5.0)}},
         .seed = 13},
    };
}

}  // namespace landfall
