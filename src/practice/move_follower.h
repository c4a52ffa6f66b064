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
#include "src/practice/listener_event.h"
#include "src/practice/move_finder.h"
#include "src/practice/note_listener.h"

namespace landfall {

struct FollowerConfig {
    NoteListenerConfig notes;
    Target target = Target::concert;
    OwnFrets ownFrets{};
    MoveFinderConfig find;
    // a shorter note that does not land where it was asked is an ornament, not a try: there was no time to hold
    // anything
    double tryLeast = 0.350;
    // a note with nothing else in the half second before, and as long itself, was meant to be something
    double aloneLeast = 0.500;
    double nextStepWithin = 6.0;  // a try's next step, on a stroke of its own
    double noTry = 20.0;
    double slipped = 6.0;  // cents, three starts in a row: more than a fretting finger's pressure does

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

class MoveFollower : private NoteHearer {
public:
    MoveFollower(const FollowerConfig& given, std::vector<ListenerEvent>& sink)
        : config(given), events(sink), notes(given.notes, *this),
          finder(given.find, Targets(given.target, given.ownFrets)) {}

    void setMoves(std::vector<Move> moves, MoveOrder order);
    void setTarget(Target target) { finder.targets.want(target); }
    void onset(const Onset& onset) { notes.onset(onset); }
    void settled(const PitchFrame& frame);
    void provisional(const PitchFrame& frame) { notes.provisional(frame); }
    void finish();
    // strikes every step of the try that sounds, else of the last one; its number
    std::optional<int> discardLast();
    void reset();
    // The target of the move asked now, for the eye.
    std::optional<Cents> fromTarget(Hertz pitch) const;
    const OwnFrets& ownFrets() const { return finder.targets.ownFrets(); }
    // The first move asked that is held against concert pitch only because this guitar's own is not known yet.
    std::optional<Move> lackingTarget() const;
    int asked() const { return static_cast<int>(next) + 1; }  // the number of that move

private:
    struct Try {         // what has been said of the note that sounds
        int number = 0;  // 0: no try yet
        bool again = false, struck = false;
        std::optional<std::size_t> locked;  // the move that its first step is, once something final was said
        std::vector<std::size_t> provisional, final, ended;  // moves
    };

    void strokeHeard(const Onset& stroke, int note) override;
    void noteBegan() override;
    void noteGrew() override;
    void noteEnded(Note over, bool rings) override;
    void earlyGrew(const PitchFrame& frame) override;
    bool hasLanded() const override { return current.locked.has_value(); }

    std::vector<std::size_t> candidates(const Note& note) const;
    const Note* other() const;
    std::vector<FoundStep> match(const Note& note, const JudgeConfig& judging) const;
    bool fades(const Note& note) const;
    bool hasStopped(const Note& note) const;
    bool isOrnament(const Note& over, const std::vector<FoundStep>& steps) const;
    std::string whyNone(const Note& over) const;
    void ended(const FoundStep& step);
    void learn(const FoundStep& step);
    void align();

    FollowerConfig config;
    std::vector<ListenerEvent>& events;
    MoveOrder order = MoveOrder::everyTry;

    NoteListener notes;
    MoveFinder finder;
    Try current;
    std::size_t next = 0;                     // move expected: of the list (once), of the try (everyTry, 0 = a new try)
    double nextUntil = 0.0;                   // everyTry: how long a later step is waited for
    std::optional<Note> before;               // the note before this one
    bool beforeMatched = false;               // it was a try
    bool again = false;                       // it was the beginning of one, cut by a second stroke
    std::vector<Note> heard;                  // once: all notes, until the input is over
    double lastTry = 0.0;                     // or the last time that "no try" was said
    int lastEnded = 0;                        // the number of the last try, unless it was struck
    std::map<int, std::deque<double>> slips;  // string (or minus the start note) -> start errors in a row
};

}  // namespace landfall
