#include "src/app/today_run.h"

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/practice/practice_care.h"

using namespace landfall;

namespace {

TaskDone asked(const std::string& drill, int done = 0) {
    TaskDone task{LessonTask{*drillNamed(drill)}};
    task.asked.tries = 6;
    task.tries = done;
    return task;
}

const Drill next = *drillNamed("Up and stay");

std::string nameOf(const std::optional<LessonTask>& task) { return task ? task->name() : "the end"; }

}  // namespace

TEST_CASE("the warm-up is light, within the limits of care, and stays out of the totals") {
    const Drill drill = warmUpDrill();
    CHECK(widestBend(drill) == 1.0);
    CHECK(drill.guidedTries >= drill.tries);
    CHECK(drillLength(drill).value < 180.0);
    for (const NeckPlace place : drill.places) CHECK_FALSE(heavyReason(drill, Guitar{}, place));
    CHECK(placesOn(drill, Guitar{}).missing.empty());
}

TEST_CASE("warm-up, each task that is not done once, then what next again and again until the time is over") {
    const std::vector<Homework> homework{{"Week 4", "", "", {}, {asked("Half up"), asked("Whole up", 6)}, {}},
                                         {"Week 3", "", "", {}, {asked("Up and home")}, {}}};
    TodayRun run(Seconds(1200.0), Seconds(50.0));
    CHECK(nameOf(run.next(homework, next, {}, Seconds(50.0))) == "Warm-up");
    CHECK(nameOf(run.next(homework, next, {}, Seconds(200.0))) == "Half up");
    CHECK(nameOf(run.next(homework, next, {}, Seconds(440.0))) == "Up and home");
    CHECK(nameOf(run.next(homework, next, {}, Seconds(640.0))) == next.name);
    CHECK(nameOf(run.next(homework, next, {}, Seconds(900.0))) == next.name);
    CHECK(nameOf(run.next(homework, next, {}, Seconds(1155.0))) == next.name);
    CHECK(nameOf(run.next(homework, next, {}, Seconds(1165.0))) == "the end");  // 85 s are left
}

TEST_CASE("a phrase comes after every second part of what next, each phrase once") {
    const LessonTask phrase{builtInPhrases().front().line};
    TodayRun run(Seconds(3600.0), Seconds(0.0));
    run.next({}, next, phrase, Seconds(0.0));  // the warm-up
    std::vector<std::string> played;
    for (int part = 0; part < 6; ++part) played.push_back(nameOf(run.next({}, next, phrase, Seconds(60.0))));
    CHECK(played == std::vector<std::string>{next.name, next.name, phrase.name(), next.name, next.name, next.name});
    TodayRun alone(Seconds(3600.0), Seconds(0.0));
    alone.next({}, {}, phrase, Seconds(0.0));
    CHECK(nameOf(alone.next({}, {}, phrase, Seconds(60.0))) == phrase.name());
    CHECK(nameOf(alone.next({}, {}, phrase, Seconds(60.0))) == "the end");
}

TEST_CASE("where there is nothing to play, or two parts in a row cannot be played, it ends") {
    TodayRun run(Seconds(1200.0), Seconds(0.0));
    run.next({}, {}, {}, Seconds(0.0));
    CHECK_FALSE(run.next({}, {}, {}, Seconds(60.0)));
    TodayRun tired(Seconds(1200.0), Seconds(0.0));
    tired.next({}, next, {}, Seconds(0.0));
    tired.leftOut("Up and stay", "enough full steps");
    CHECK(tired.next({}, next, {}, Seconds(60.0)));
    tired.played("Up and stay", "fine", 6, 5);
    tired.leftOut("Up and stay", "enough full steps");
    CHECK(tired.next({}, next, {}, Seconds(90.0)));
    tired.leftOut("Up and stay", "enough full steps");
    CHECK_FALSE(tired.next({}, next, {}, Seconds(100.0)));
    CHECK(tired.parts().back().words == "left out: enough full steps");
}

TEST_CASE("what is to be kept is what went best of what was measured often enough, and never invented") {
    TodayRun run(Seconds(1200.0), Seconds(0.0));
    CHECK(run.toKeep().find("Too little was measured") != std::string::npos);
    run.played("Lantern Street", "3 passes", 0, 0);
    run.played("Half up", "", 3, 3);  // too few
    CHECK(run.toKeep().find("Too little was measured") != std::string::npos);
    run.played("Whole up", "", 12, 4);
    run.played("Up and home", "", 6, 4);
    CHECK(run.toKeep() == "Keep what you did in Up and home: 4 of 6 good.");
}
