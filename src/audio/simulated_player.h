// A simulated student with a guitar: plays moves, noodles and rests, and knows what it really played. Seeded, the same
// at any block size. One thread.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "dsp/units.h"
#include "src/audio/player_skill.h"
#include "src/music/chord_move.h"
#include "src/music/guitar.h"
#include "src/music/line.h"
#include "src/music/move.h"

namespace landfall {

enum class Played { landed, otherInterval, wrongFret, died, twoStrings };

// How a move that died came to its end: damped half way, given up early or late, let down to where it began, stopped
// short and left there, or taken further while the string fades.
enum class Failing { damped, early, late, letDown, gaveUp, faded };

// What was really played of one move, measured on the true first partial by the judge's definitions. Times count from
// the first sample read. Errors are against equal temperament at the guitar's A4, + over.
struct MoveTruth {
    int tryNumber = 1;   // 1 for the first call of play
    int moveNumber = 1;  // within that try
    Move move;
    Played played = Played::landed;
    Seconds onset, end;  // the stroke the try began with (the last, after a double stroke); where the sound stops
    std::optional<Seconds> arrival;
    std::optional<Cents> firstStopError;  // median, arrival + 20 to + 150 ms
    // median, + 60 to + 310 ms of the hold; with vibrato at once the mean over whole cycles
    std::optional<Cents> landingError;
    std::optional<Cents> startError;
    std::optional<Cents> overshoot;   // furthest past the first stop before arrival; at least 0
    std::optional<Cents> sag;         // landing - median of the last 60 ms
    std::optional<Seconds> riseTime;  // leaving the start note to arrival
    std::optional<Seconds> holdLength;
    std::optional<Seconds> linger;  // slides: on the note left
    std::optional<int> landedFret;  // slides
    // Of a move of several strings, from low to high where they start: each string's own landing, empty where it was not
    // struck; landingError is then the worst one's, of a unison how far the bent string is from the held one.
    std::vector<std::optional<Cents>> strings{};
    bool corrected = false;
    bool playedAgain = false;  // in a line: its bar was begun again, so that another playing of it counts
    bool waited = false;       // the hand hesitated before it
    struct Vibrato {
        Hertz rate;
        Cents width, bottom, top;  // bottom and top against the asked note
    };
    std::optional<Vibrato> vibrato;
};

// What a test or a demo prescribes; the rest stays the player's own.
struct PlayerWish {
    std::optional<Cents> firstStopError{};
    std::optional<Cents> correctedError{};  // pulls it in to this
    std::optional<Played> played{};
    std::optional<Failing> failing{};  // of one that died
    std::optional<Cents> overshoot{};  // bends: swings this far past the first stop
    std::optional<Cents> sag{};
    std::optional<Cents> startError{};
    std::optional<int> slideOvershoot{};  // in frets
    std::optional<Seconds> linger{};      // the note before the gesture
    std::optional<Seconds> rise{};
    std::optional<Seconds> hold{};
    std::optional<bool> doubleStroke{};
    bool vibrato = false;  // on the landed note of any gesture, after 0.35 s
    // Of a move of several strings: each one's error, from low to high where they start; one that is not struck; how far
    // a bend pulls those that are held.
    std::array<std::optional<Cents>, mostStruckTogether> stringErrors{};
    std::optional<std::size_t> silent{};
    std::optional<Cents> dragged{};
    std::optional<std::size_t> late{};  // struck so long after the others; never the one that leads the shape
    Seconds lateBy{0.15};
};

class SimulatedPlayer {
public:
    struct Config {
        double sampleRate = 48000.0;  // 16 to 192 kHz
        std::uint32_t seed = 1;
        Guitar guitar{};
        PlayerSkill skill = ines();
        std::vector<Cents> stringOffsets{};  // how far each string is out of tune, string 1 first; missing ones are 0
        int triesBefore = 0;                 // practice that went before, for skills that learn
        Decibels noiseFloor{-74.0};
        Decibels hum{-84.0};  // mains hum's fundamental
        Hertz mains{50.0};
        double gain = 0.0;  // tanh drive; 0: clean
    };

    explicit SimulatedPlayer(const Config& config);
    ~SimulatedPlayer();
    SimulatedPlayer(SimulatedPlayer&&) noexcept;
    SimulatedPlayer& operator=(SimulatedPlayer&&) noexcept;

    // Queue behind what is queued already. A move of several strings has a finger on each. Several moves are steps within one note: a bend, then its release.
    void play(const Move& move, const PlayerWish& wish = {});
    void play(const std::vector<Move>& steps, const PlayerWish& wish = {});  // the wish is for the last step
    // At so many quarters a minute, with the habits of the skill: a truth for each playing of its moves, the pass counts as
    // one try. A slide that is picked follows a grace note on its own string.
    void play(const Line& line, double tempo);
    void playOpenString(int string);
    void noodle(Seconds length, NeckPlace around = {2, 8});
    void rest(Seconds length);

    Seconds queued() const;  // not read yet
    // Fills `samples`: what is queued, then silence with the guitar's own noise. Not rounded to 24 bit.
    void read(std::span<float> samples);
    // A move's truth is there as soon as it is queued.
    const std::vector<MoveTruth>& truths() const;
    // The true first partial at a moment that is queued or was read within the last 5 s; empty where no string sounds.
    std::optional<Hertz> firstPartialAt(Seconds time) const;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
