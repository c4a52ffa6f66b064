// Finds the asked moves in what is played: which notes are tries, where each move landed, and what is only noodling.
// Practising, it says so while the note sounds; marking, all moves are laid out over all notes once the input is over.
// Times count from the first sample heard. One thread, the analysis thread.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "dsp/pitch_frame.h"
#include "src/practice/landing_judge.h"
#include "src/practice/listener_event.h"

namespace landfall {

struct FollowerConfig {
    Hertz a4 = standardA4;
    Target target = Target::concert;
    GestureReaderConfig reader;
    JudgeConfig judge;
    // without a pitch for so long, and with the level down by `levelLost`, the note has ended
    double noteLost = 0.150;
    double levelLost = 10.0;      // dB under the last frame with a pitch: a damped string falls faster than any decay
    double pitchLost = 0.500;     // without a pitch for so long it has ended whatever sounds on: hum, other strings
    double noteAppears = 0.060;   // a pitch without a stroke for so long is a note too
    double attack = 0.150;        // a string is loudest within so much of its stroke
    double doubleStroke = 0.050;  // pick and fret noise of one stroke
    // A second stroke on a note that still sounds, where the tracker reports none: the level rises by so much within
    // `restruckWithin` and the frames between are unsure, five times as much as before and by a cent at least, and the
    // pitch is the same afterwards.
    double restruckRise = 1.0;
    double restruckWithin = 0.070;
    double restruckUnsure = 1.0;
    double restruckPitch = 15.0;
    double restruckBefore = 0.3;  // s of frames that are sure, in the middle: else nothing can be told
    double runOfNotes = 0.300;    // a stroke this soon after one on another pitch belongs to a run
    // a shorter note that does not land where it was asked is an ornament, not a try: there was no time to hold
    // anything
    double tryLeast = 0.350;
    // a note with nothing else in the half second before, and as long itself, was meant to be something
    double aloneLeast = 0.500;
    double nextStepWithin = 6.0;  // a try's next step, on a stroke of its own
    double noteMost = 20.0;       // a note is not followed for longer
    double noTry = 20.0;
    double slipped = 6.0;  // cents, three starts in a row: more than a fretting finger's pressure does
    std::size_t recentStarts = 5;

    // The provisional word: 75 ms of steady pitch instead of 100, where it is flat. A turn of an overshoot is round: of
    // 35 cents in 90 ms its outer thirds lie more than 5 cents below the middle one; a hand that holds wanders less.
    // Measured by tests/bench/gesture_table.cpp.
    double earlyStop = 0.075;
    double earlyFlat = 3.0;  // cents between its thirds
    // cents, or of the frames' noise: so far back in the last third, the middle one is the turn of an overshoot
    double earlyTurned = 0.3;
    double earlyLeaves = 5.0;    // cents: what has left its stop by more in the last third is on its way again
    double earlyUneven = 0.160;  // s of steady pitch where it is not
    double earlyFades = 6.0;     // dB within it: a string being damped is no landing
    double earlySaid = 0.085;    // after arrival
    // a slide's stay on another fret than the one asked may be on its way: no word before this
    double earlyElsewhere = 0.300;
    // s: in a note that has sounded longer, every fourth frame is looked at; before, every one
    double earlyEvery = 2.0;
};

class MoveFollower {
public:
    MoveFollower(const FollowerConfig& given, std::vector<ListenerEvent>& sink) : config(given), events(sink) {}

    void setMoves(std::vector<Move> moves, MoveOrder order);
    void setTarget(Target target) { config.target = target; }
    void onset(const Onset& onset);
    void settled(const PitchFrame& frame);
    void provisional(const PitchFrame& frame);
    void finish();
    // strikes every step of the try that sounds, else of the last one; its number
    std::optional<int> discardLast();
    void reset();
    // The target of the move asked now, for the eye.
    std::optional<Cents> fromTarget(Hertz pitch) const;
    int asked() const { return static_cast<int>(next) + 1; }  // the number of that move

private:
    struct Step {  // one move found in a note
        std::size_t move = 0;
        Landing landing;
        std::size_t stop = 0;  // the stretch it landed on; 0: it did not land
    };
    struct Try {         // what has been said of the note that sounds
        int number = 0;  // 0: no try yet
        bool again = false, struck = false;
        std::optional<std::size_t> locked;  // the move that its first step is, once something final was said
        std::vector<std::size_t> provisional, final, ended;  // moves
    };

    struct Sounded {
        double time = 0.0, cents = 0.0;
    };
    struct Stroke {
        int note = 0;
        double time = 0.0;
    };

    PitchPoint hear(const PitchFrame& frame);
    std::vector<std::size_t> candidates(const Note& note) const;
    bool startsOn(const Note& note, std::size_t move) const;
    bool afterOther(const Note& note) const;
    std::vector<Step> chain(const Note& note, std::size_t move, std::size_t from, const JudgeConfig& judging) const;
    std::vector<Step> match(const Note& note, const JudgeConfig& judging) const;
    bool secondStartsOn(const Note& note, std::size_t move) const;
    std::vector<Step> second(const Note& note, std::size_t move, bool run) const;
    bool fades(const Note& note) const;
    bool hasStopped(const Note& note) const;
    double targetOf(const Move& move, Target& used) const;
    bool isOrnament(const Note& over, const std::vector<Step>& steps) const;
    bool ringsUnclear(Decibels level) const;
    std::string whyNone(const Note& over) const;
    std::optional<double> restruck() const;
    int tryNumber(const Note& of, std::size_t move) const;
    void begin(Note fresh);
    void evaluate();
    void close();
    void ended(const Step& step);
    void learn(const Step& step);
    void learnFret(const Note& note);
    void align();

    FollowerConfig config;
    std::vector<ListenerEvent>& events;
    std::vector<Move> moves;
    MoveOrder order = MoveOrder::everyTry;

    int notes = 0;                     // so many have begun
    std::deque<Stroke> strokes;        // known, not yet reached by the settled stream
    std::optional<Note> note;          // settled
    std::optional<Note> early;         // the same note in the provisional stream
    std::deque<Sounded> sounded;       // of the last seconds, settled
    double struckLevel = -140.0;       // dBFS, its loudest in the attack
    std::vector<PitchPoint> unstruck;  // a pitch that appears without a stroke
    Try current;
    std::size_t next = 0;        // move expected: of the list (once), of the try (everyTry, 0 = a new try)
    double nextUntil = 0.0;      // everyTry: how long a later step is waited for
    std::optional<Note> before;  // the note before this one
    bool beforeMatched = false;  // it was a try
    std::vector<Note> heard;     // once: all notes, until the input is over
    double clock = 0.0;          // the settled stream has come so far
    double lastTry = 0.0;        // or the last time that "no try" was said
    int sinceEvaluated = 0;
    int lastEnded = 0;                         // the number of the last try, unless it was struck
    std::map<int, std::deque<double>> starts;  // MIDI note -> recent start errors
    std::map<int, double> ownGuitar;           // MIDI note -> cents at which this guitar played it
    std::map<int, std::deque<double>> slips;   // string (or minus the start note) -> start errors in a row
};

}  // namespace landfall
