// Today: what is played in one go after one press, in its order, until its time is over: string check, warm-up, what
// the teacher asked, what next. Pure logic, any clock that only goes forwards. One thread, the trainer's.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "src/music/lesson.h"
#include "src/practice/drill_summary.h"
#include "src/review/homework.h"

namespace landfall {

// Half steps on the thin strings, all guided, so that they stay out of totals and trends.
Drill warmUpDrill();

class TodayRun {
public:
    TodayRun(Seconds length, Seconds now) : ends(now + length) {}

    // The next part to be played; empty: that was all. After the warm-up each task of the homework that is not done,
    // once, then what next again and again, with a phrase after every second one, each phrase once. Nothing is begun
    // that would last far beyond the end. `whatNext` and `phrase` as they are known now.
    std::optional<LessonTask> next(const std::vector<Homework>& homework, const std::optional<Drill>& whatNext,
                                   const std::optional<LessonTask>& phrase, Seconds now);
    // The part is over: what it came to, in a few words, its marks, and those that were good. A part of which nothing
    // could be played (`why`: care, or the guitar) is told with its reason.
    void played(const std::string& name, const std::string& words, int counted, int good);
    void leftOut(const std::string& name, const std::string& why);

    struct Part {
        std::string name, words;
        int counted = 0, good = 0;
    };
    const std::vector<Part>& parts() const { return done; }
    // What went best of it, in one sentence: to be kept.
    std::string toKeep() const;

private:
    bool wasPlayed(const std::string& name) const;

    Seconds ends;
    bool warm = false;
    int inARow = 0;  // left out
    int sincePhrase = 0;
    std::vector<std::string> begun;
    std::vector<Part> done;
};

}  // namespace landfall
