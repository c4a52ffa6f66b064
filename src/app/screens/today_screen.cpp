#include "src/app/screens/today_screen.h"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "src/app/screens/progress_reading.h"
#include "src/formats/lesson_file.h"
#include "src/formats/phrase_file.h"
#include "src/review/next_place.h"
#include "src/review/student_review.h"
#include "src/store/students.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr int step = 5, least = 5, most = 60;  // minutes

}  // namespace

namespace {

std::optional<LessonTask> phraseFor(Log& log, const Student& student, const Guitar& guitar,
                                    const std::filesystem::path& folder) {
    std::vector<Line> lines;
    for (const PhraseFile& phrase : builtInPhrases()) lines.push_back(phrase.line);
    if (!folder.empty())
        for (const PhraseFile& phrase : ownPhrases(folder).phrases) lines.push_back(phrase.line);
    const auto next = nextPhraseFor(log, student, guitar, lines, calendarNow());
    if (!next || !*next) return {};
    LessonTask task{.what = lines[(*next)->line]};
    task.tries = usualLessonPasses;
    task.note = (*next)->reason;
    return task;
}

}  // namespace

ReadToday readToday(const std::filesystem::path& file, const std::string& student, const Guitar& guitar,
                    const std::filesystem::path& phrases) {
    ReadToday read;
    std::error_code ignored;
    if (file.empty()) return read;
    if (std::filesystem::exists(file, ignored)) {
        auto log = Log::open(file, Log::Access::read, Seconds(1.0));
        if (!log) {
            read.problem = log.error().message;
            return read;
        }
        if (const auto known = findStudent(*log, student)) {
            auto homework = homeworkOf(*log, *known);
            if (homework) read.homework = std::move(*homework);
            else read.problem = homework.error().message;
            read.phrase = phraseFor(*log, *known, guitar, phrases);
        }
    }
    read.whatNext = readWhatNext(file, student, guitar);
    if (read.whatNext) return read;
    // Nobody has played yet.
    if (const auto first = nextPlace({}, guitar, 0)) read.whatNext = drillOf(*first, guitar);
    return read;
}

std::vector<const LessonTask*> TodayScreen::tasks() const {
    std::vector<const LessonTask*> all;
    for (const Homework& lesson : known.homework)
        for (const TaskDone& task : lesson.tasks) all.push_back(&task.asked);
    return all;
}

void TodayScreen::setMinutes(int given) {
    minutes = given;
    refresh();
}

void TodayScreen::set(ReadToday read) {
    known = std::move(read);
    refresh();
}

void TodayScreen::ended(std::vector<TodayRow> parts, std::string toKeep) {
    shown.rows = std::move(parts);
    shown.keep = std::move(toKeep);
    shown.selected = 0;
    shown.ended = true;
}

void TodayScreen::say(std::string message) { shown.message = std::move(message); }

void TodayScreen::refresh() {
    if (shown.ended) return;
    shown.rows.clear();
    shown.title = "No homework";
    shown.note = "A lesson that your teacher sends is dropped on this window.";
    shown.rows.push_back({fmt::format("Today, {} minutes", minutes),
                          "String check, warm-up, homework, what next, with rests", "", false});
    for (const Homework& lesson : known.homework) {
        if (&lesson == &known.homework.front()) {
            shown.title = lesson.from.empty() ? lesson.title : fmt::format("{}, from {}", lesson.title, lesson.from);
            shown.note = lesson.problem.empty() ? lesson.note : "It cannot be read any more: " + lesson.problem;
        }
        for (const TaskDone& task : lesson.tasks)
            shown.rows.push_back({task.asked.name(), askedWords(task), doneWords(task), task.isDone()});
    }
    if (known.whatNext) shown.rows.push_back({known.whatNext->name, known.whatNext->trains, "", false});
    if (known.phrase) shown.rows.push_back({known.phrase->name(), known.phrase->note, "", false});
    if (!known.problem.empty()) shown.message = known.problem;
    shown.selected = std::clamp(shown.selected, 0, static_cast<int>(shown.rows.size()) - 1);
    // Of the task that is marked its own words.
    const auto all = tasks();
    const auto index = static_cast<std::size_t>(shown.selected);
    if (index > 0 && index <= all.size() && !all[index - 1]->note.empty()) shown.note = all[index - 1]->note;
}

Wish TodayScreen::act(const Intent& intent, int now) {
    Wish wish;
    minutes = now;
    const int last = static_cast<int>(shown.rows.size()) - 1;
    if (intent.kind != Kind::open) shown.message.clear();
    if (shown.ended) {
        if (intent.kind == Kind::choose || intent.kind == Kind::decline) {
            shown.ended = false;
            shown.keep.clear();
            refresh();
        }
        return wish;
    }
    switch (intent.kind) {
        case Kind::previous: shown.selected = std::max(0, shown.selected - 1); break;
        case Kind::following: shown.selected = std::min(last, shown.selected + 1); break;
        case Kind::less: wish.todayMinutes = std::max(least, minutes - step); break;
        case Kind::more: wish.todayMinutes = std::min(most, minutes + step); break;
        case Kind::pick:
            if (intent.value < 0 || intent.value > last) break;
            if (intent.value != shown.selected) {
                shown.selected = intent.value;
                break;
            }
            [[fallthrough]];
        case Kind::choose: {
            if (shown.selected == 0) {
                wish.today = true;
                break;
            }
            const auto all = tasks();
            const auto index = static_cast<std::size_t>(shown.selected - 1);
            wish.task = index < all.size()                      ? *all[index]
                        : index == all.size() && known.whatNext ? LessonTask{*known.whatNext}
                                                                : *known.phrase;
            break;
        }
        default: break;
    }
    refresh();
    return wish;
}

}  // namespace landfall
