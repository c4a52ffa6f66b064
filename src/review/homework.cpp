#include "src/review/homework.h"

#include <algorithm>
#include <span>
#include <utility>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/lesson_file.h"
#include "src/practice/line_marks.h"
#include "src/practice/tally.h"
#include "src/store/lessons.h"

namespace landfall {

namespace {

// What was played in one go: a drill's steps, or a pass.
using Go = std::vector<const LoggedTry*>;

std::vector<Go> goesOf(const std::vector<TryInSitting>& tries) {
    std::vector<Go> goes;
    std::pair<std::int64_t, int> last{-1, 0};
    for (const TryInSitting& one : tries) {
        const LoggedTry& row = one.oneTry;
        // Where no pass is known each try stands by itself.
        const std::pair now{one.sitting, row.pass.value_or(-row.number)};
        if (now != last) goes.emplace_back();
        last = now;
        goes.back().push_back(&row);
    }
    return goes;
}

int insideOf(const Go& go, const LessonTask& task) {
    const Drill* drill = std::get_if<Drill>(&task.what);
    const Subject subject = drill ? drill->subject : Subject::landing;
    return static_cast<int>(std::ranges::count_if(
        go, [&](const LoggedTry* one) { return isGood(one->landing, task.aim.value_or(one->aim), subject); }));
}

void countDrill(TaskDone& task, const std::vector<Go>& goes) {
    task.tries = static_cast<int>(goes.size());
    const std::size_t last = std::min(goes.size(), static_cast<std::size_t>(task.asked.tries));
    const auto these = std::span(goes).last(last);
    const auto isGuided = [](const Go& go) { return go.front()->guided; };
    const bool all = std::ranges::all_of(these, isGuided);
    for (const Go& go : these) {
        if (isGuided(go) && !all) continue;
        task.counted +=
            static_cast<int>(std::ranges::count_if(go, [](const LoggedTry* one) { return isCounted(one->landing); }));
        task.inside += insideOf(go, task.asked);
    }
}

// Of a whole pass, which has a tempo where the phrase has beats, what was never played is not inside.
void countPhrase(TaskDone& task, const std::vector<Go>& goes, const Line& line) {
    const int moves = triesIn(line);
    std::vector<const Go*> passes;
    for (const Go& go : goes)
        if (go.front()->tempo || (!line.inTime && 2 * static_cast<int>(go.size()) >= moves)) passes.push_back(&go);
    task.tries = static_cast<int>(passes.size());
    const int least = task.asked.inside.value_or(tempoShare);
    for (const Go* pass : passes)
        if (100 * insideOf(*pass, task.asked) >= least * moves && pass->front()->tempo)
            task.tempo = std::max(task.tempo.value_or(0.0), *pass->front()->tempo);
    const std::size_t last = std::min(passes.size(), static_cast<std::size_t>(task.asked.tries));
    for (const Go* pass : std::span(passes).last(last)) {
        task.counted += std::max(moves, static_cast<int>(pass->size()));
        task.inside += insideOf(*pass, task.asked);
    }
}

Result<TaskDone> taskDone(Log& log, const Student& student, const LessonTask& asked, CalendarTime since) {
    const auto tries = log.triesOfDrill(student, asked.name(), since);
    if (!tries) return tries.error();
    TaskDone task{asked};
    const std::vector<Go> goes = goesOf(*tries);
    if (asked.isPhrase()) countPhrase(task, goes, std::get<Line>(asked.what));
    else countDrill(task, goes);
    return task;
}

// A player's hands keep no tempo to a hundredth.
bool reached(const TaskDone& task) { return !task.asked.tempo || task.tempo.value_or(0.0) >= 0.98 * *task.asked.tempo; }

bool isInsideEnough(const TaskDone& task) {
    return !task.asked.inside || (task.counted > 0 && 100 * task.inside >= *task.asked.inside * task.counted);
}

std::string unit(const LessonTask& task, int count) {
    if (task.isPhrase()) return count == 1 ? "pass" : "passes";
    return count == 1 ? "try" : "tries";
}

}  // namespace

bool TaskDone::isDone() const { return tries >= asked.tries && isInsideEnough(*this) && reached(*this); }

bool Homework::isDone() const { return problem.empty() && std::ranges::all_of(tasks, &TaskDone::isDone); }

Result<std::vector<Homework>> homeworkOf(Log& log, const Student& student) {
    auto kept = keptLessons(log, student);
    if (!kept) return kept.error();
    std::vector<Homework> found;
    for (const KeptLesson& each : *kept) {
        if (each.putAway) continue;
        Homework& homework = found.emplace_back();
        homework.title = each.title;
        homework.received = each.received;
        const auto lesson = parseLesson(each.content, each.title);
        if (!lesson) {
            homework.problem = lesson.error().message;
            continue;
        }
        homework.from = lesson->from;
        homework.note = lesson->note;
        for (const LessonTask& task : lesson->tasks) {
            auto done = taskDone(log, student, task, each.received);
            if (!done) return done.error();
            homework.tasks.push_back(std::move(*done));
        }
    }
    return found;
}

int demandingBends(const Lesson& lesson) {
    const auto isDemanding = [](Gesture gesture, double semitones) {
        return (gesture == Gesture::bend || gesture == Gesture::preBend) && semitones >= 1.999;
    };
    std::ptrdiff_t bends = 0;
    for (const LessonTask& task : lesson.tasks) {
        if (const auto* drill = std::get_if<Drill>(&task.what))
            bends += task.tries * std::ranges::count_if(drill->steps, [&](const DrillStep& step) {
                         return isDemanding(step.gesture, step.toSemitones - step.fromSemitones);
                     });
        else
            bends += task.tries * std::ranges::count_if(std::get<Line>(task.what).moves, [&](const LineMove& each) {
                         return isDemanding(each.move.gesture, each.move.width());
                     });
    }
    return static_cast<int>(bends);
}

std::optional<HomeworkPlace> nextHomework(const std::vector<Homework>& all) {
    for (std::size_t i = 0; i < all.size(); ++i)
        for (std::size_t j = 0; j < all[i].tasks.size(); ++j)
            if (!all[i].tasks[j].isDone()) return HomeworkPlace{i, j};
    return {};
}

std::string askedWords(const TaskDone& task) {
    const LessonTask& asked = task.asked;
    std::string words = fmt::format("{} {}", asked.tries, unit(asked, asked.tries));
    const std::string aim = asked.aim ? fmt::format("±{:g} cents", asked.aim->value) : "your aim";
    if (asked.inside) words += fmt::format(", {} % inside {}", *asked.inside, aim);
    else if (asked.aim) words += fmt::format(", aim {}", aim);
    if (asked.tempo) words += fmt::format(", at {:g} quarters a minute", *asked.tempo);
    return words;
}

std::string doneWords(const TaskDone& task) {
    if (task.tries == 0) return "not begun";
    std::string words = task.tries >= task.asked.tries ? fmt::format("{} {}", task.tries, unit(task.asked, task.tries))
                                                       : fmt::format("{} of {} {}", task.tries, task.asked.tries,
                                                                     unit(task.asked, task.asked.tries));
    if (task.counted > 0) words += fmt::format(", {} of the last {} inside", task.inside, task.counted);
    if (task.asked.tempo)
        words += task.tempo ? fmt::format(", {:.0f} quarters a minute reached", *task.tempo) : ", no tempo reached yet";
    return task.isDone() ? "done: " + words : words;
}

Table homeworkTable(const std::vector<Homework>& all) {
    Table table{{"lesson", "from", "received", "task", "kind", "tries_asked", "tries", "counted", "inside",
                 "inside_asked", "aim_cents", "tempo_asked", "tempo", "done", "problem"},
                {}};
    const auto whole = [](int number) { return Cell(std::int64_t{number}); };
    const auto of = [](const std::optional<double>& number) { return number ? Cell(*number) : Cell(); };
    for (const Homework& lesson : all) {
        const Cell received = utcText(lesson.received);
        if (!lesson.problem.empty()) {
            std::vector<Cell> row{lesson.title, lesson.from, received};
            row.resize(table.columns.size() - 1);
            row.emplace_back(lesson.problem);
            table.rows.push_back(std::move(row));
        }
        for (const TaskDone& each : lesson.tasks)
            table.rows.push_back({lesson.title, lesson.from, received, each.asked.name(),
                                  std::string(each.asked.isPhrase() ? "phrase" : "drill"), whole(each.asked.tries),
                                  whole(each.tries), whole(each.counted), whole(each.inside),
                                  each.asked.inside ? whole(*each.asked.inside) : Cell(),
                                  each.asked.aim ? Cell(each.asked.aim->value) : Cell(), of(each.asked.tempo),
                                  of(each.tempo), each.isDone(), Cell()});
    }
    return table;
}

}  // namespace landfall
