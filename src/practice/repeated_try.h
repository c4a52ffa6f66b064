// Practising: the moves asked are the steps of one try, and each try plays them all again. Says which notes are tries
// and where they landed while the note sounds, and what is only noodling. One thread, the analysis thread.
#pragma once

#include <string>

#include "src/practice/first_word.h"
#include "src/practice/try_maker.h"

namespace landfall {

struct RepeatedTryConfig {
    FirstWordConfig firstWord;
    // a shorter note that does not land where it was asked is an ornament, not a try: there was no time to hold
    // anything
    double tryLeast = 0.350;
    // a note with nothing else in the half second before, and as long itself, was meant to be something
    double aloneLeast = 0.500;
    double nextStepWithin = 6.0;  // a try's next step, on a stroke of its own
};

class RepeatedTry : public TryMaker {
public:
    RepeatedTry(const RepeatedTryConfig& given, const Around& with) : TryMaker(with), config(given) {}

    void begin() override;
    std::size_t next() const override { return expected; }
    std::optional<int> discardLast() override;

private:
    struct Try {         // what has been said of the note that sounds
        int number = 0;  // 0: no try yet
        bool again = false, struck = false;
        std::optional<std::size_t> locked;            // the move that its first step is, once something final was said
        std::vector<std::size_t> provisional, ended;  // moves
        std::vector<FoundStep> final;                 // as told
        std::string wrong;                            // said of a start elsewhere than asked
    };

    void noteBegan() override;
    void noteGrew() override;
    void noteEnded(Note over, bool rings) override;
    void earlyGrew(const PitchFrame& frame) override;
    bool hasLanded() const override { return current.locked.has_value(); }

    std::vector<std::size_t> candidates(const Note& note) const;
    const Note* other() const;
    std::vector<FoundStep> match(const Note& note, const JudgeConfig& judging) const;
    void beginTry(const Note& note, const std::vector<FoundStep>& steps);
    void endTry(const Note& over, const Try& said, const std::vector<FoundStep>& steps, bool taught);
    bool isOrnament(const Note& over, const std::vector<FoundStep>& steps) const;
    void wrongStart(const Note& note);
    std::string whyNone(const Note& over) const;
    std::string noPitch(const Note& over) const;  // of a stroke that rings without one

    RepeatedTryConfig config;
    Try current;
    std::size_t expected = 0;    // the try's move; 0: a new try
    double expectedUntil = 0.0;  // how long a later step is waited for
    std::optional<Note> before;  // the note before this one
    bool beforeMatched = false;  // it was a try
    bool again = false;          // it was the beginning of one, cut by a second stroke
};

}  // namespace landfall
