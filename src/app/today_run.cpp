#include "src/app/today_run.h"

#include <algorithm>

#include <fmt/core.h>

namespace landfall {

namespace {

constexpr Seconds worthBeginning{90.0};  // left of the time, for a part of two to four minutes
constexpr int fewest = 4;                // marks, to say that something went well
constexpr int beforePhrase = 2;          // parts of what next

}  // namespace

Drill warmUpDrill() {
    Drill drill;
    drill.name = "Warm-up";
    drill.trains = "Warms the hand up before anything wider.";
    drill.how = "Fret lightly up and down the neck for a while. Then bend half steps, as softly as they go.";
    drill.meanwhile = "Half steps, softly.";
    drill.steps = {{.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 1.0}};
    drill.places = {{2, 8}, {3, 9}};
    drill.tries = drill.guidedTries = 5;
    drill.lastSetByEar = false;
    return drill;
}

bool TodayRun::wasPlayed(const std::string& name) const { return std::ranges::find(begun, name) != begun.end(); }

std::optional<LessonTask> TodayRun::next(const std::vector<Homework>& homework, const std::optional<Drill>& whatNext,
                                         const std::optional<LessonTask>& phrase, Seconds now) {
    if (!warm) {
        warm = true;
        return LessonTask{warmUpDrill()};
    }
    if (ends - now < worthBeginning || inARow > 1) return {};
    for (const Homework& lesson : homework)
        for (const TaskDone& task : lesson.tasks)
            if (!task.isDone() && !wasPlayed(task.asked.name())) {
                begun.push_back(task.asked.name());
                return task.asked;
            }
    if (phrase && !wasPlayed(phrase->name()) && (sincePhrase >= beforePhrase || !whatNext)) {
        begun.push_back(phrase->name());
        sincePhrase = 0;
        return phrase;
    }
    if (!whatNext) return {};
    ++sincePhrase;
    return LessonTask{*whatNext};
}

void TodayRun::played(const std::string& name, const std::string& words, int counted, int good) {
    inARow = 0;
    done.push_back({name, words, counted, good});
}

void TodayRun::leftOut(const std::string& name, const std::string& why) {
    ++inARow;
    done.push_back({name, "left out: " + why, 0, 0});
}

std::string TodayRun::toKeep() const {
    const Part* best = nullptr;
    for (const Part& part : done)
        if (part.counted >= fewest && (best == nullptr || part.good * best->counted > best->good * part.counted))
            best = &part;
    if (best == nullptr || best->good == 0)
        return "Too little was measured to say what went best: rest, and come back tomorrow.";
    return fmt::format("Keep what you did in {}: {} of {} good.", best->name, best->good, best->counted);
}

}  // namespace landfall
