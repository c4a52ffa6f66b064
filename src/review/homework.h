// What teachers asked of a student, and beside it what was done since: for window, terminal and report alike. Reads the
// log, of each task only what was played for it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "src/music/lesson.h"
#include "src/store/log.h"

namespace landfall {

struct TaskDone {
    LessonTask asked;
    int tries = 0;    // made, of a phrase: whole passes; dropped ones are none
    int counted = 0;  // marks of the last `asked.tries` of them, guided ones left out where there are others ...
    int inside = 0;   // ... and those that were good, by the aim asked
    std::optional<double> tempo{};  // reached, quarters a minute; see tempoShare

    bool isDone() const;
};
// So many in a hundred of a phrase's bends, releases and slides must be inside for a pass to reach its tempo, where the
// lesson does not say.
constexpr int tempoShare = 75;

// So many bends of a full step and more a lesson asks for.
int demandingBends(const Lesson& lesson);

struct Homework {
    std::string title, from, note;
    CalendarTime received;
    std::vector<TaskDone> tasks;
    std::string problem{};  // why the lesson cannot be read any more, in one line; it has no tasks then
    bool isDone() const;
};

// The one given last first; without those that were put away.
Result<std::vector<Homework>> homeworkOf(Log& log, const Student& student);

// The first task that is not done; none: all is done, or there is none.
struct HomeworkPlace {
    std::size_t lesson = 0, task = 0;
};
std::optional<HomeworkPlace> nextHomework(const std::vector<Homework>& all);

// "18 tries, 60 % of them inside ±25"; "6 passes, at 60 quarters a minute".
std::string askedWords(const TaskDone& task);
// "11 of 18 tries, 7 of 11 inside", "done: 18 tries, 13 of 18 inside", "not begun".
std::string doneWords(const TaskDone& task);

// A row a task, as `landfall open --json` and the report's figures have them; doc/report.md names the columns.
Table homeworkTable(const std::vector<Homework>& all);

}  // namespace landfall
