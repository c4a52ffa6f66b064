#include "src/app/screens/lesson_maker.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

#include <fmt/core.h>

#include "src/app/screens/typed_text.h"
#include "src/formats/drill_file.h"
#include "src/formats/lesson_file.h"
#include "src/music/name_match.h"
#include "src/review/homework.h"
#include "src/review/next_place.h"
#include "src/review/student_review.h"
#include "src/store/logged_try.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;
using RowKind = SettingRow::Kind;

constexpr int stepTries = 6, stepInside = 5, leastInside = 20;  // a set; in a hundred
constexpr double stepAim = 1.0, widestAim = 50.0, usualAim = 25.0, finestAim = 5.0;
constexpr std::size_t longestShown = 40;   // characters of a row's words
constexpr std::size_t longestTyped = 160;  // bytes of a note that is typed: it is read between two tries
constexpr double stepTempo = 2.0, leastTempo = 20.0, mostTempo = 400.0;

LessonTask usualTask(const Drill& drill) {
    LessonTask task{.what = drill};
    task.tries = totalTries(drill);
    return task;
}

LessonTask usualTask(const Line& line) {
    LessonTask task{.what = line};
    task.tries = usualLessonPasses;
    return task;
}

// A step of a goal that may be left out, which it is below `least`; from there it begins at `usual`.
std::optional<double> stepped(std::optional<double> now, double by, double least, double most, double usual) {
    if (!now) return by > 0.0 ? std::optional(usual) : std::nullopt;
    const double next = *now + by;
    return next < least ? std::nullopt : std::optional(std::min(next, most));
}

// Of a text that a row has no room for, its beginning, or its end where it is being typed; whole characters of UTF-8.
std::string shortened(std::string text, bool atEnd) {
    if (characterCount(text) <= longestShown) return text;
    const auto begins = [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; };
    std::size_t left = atEnd ? characterCount(text) - longestShown : longestShown, at = 0;
    for (; at < text.size(); ++at)
        if (begins(text[at]) && left-- == 0) break;
    return atEnd ? "…" + text.substr(at) : text.substr(0, at) + "…";
}

}  // namespace

LessonMaker::LessonMaker() {
    lesson.title = "Lesson of " + dayText(calendarNow());
    setOwn({}, {});
}

void LessonMaker::setOwn(std::vector<Drill> drills, std::vector<PhraseFile> own) {
    known.clear();
    for (const Drill& drill : builtInDrills()) known.push_back(usualTask(drill));
    // What is next for whoever plays here is no drill to send.
    for (const Drill& drill : drills)
        if (drill.name != whatNextName) known.push_back(usualTask(drill));
    for (const PhraseFile& phrase : builtInPhrases()) known.push_back(usualTask(phrase.line));
    for (const PhraseFile& phrase : own) known.push_back(usualTask(phrase.line));
    phrases = std::move(own);
    refresh();
}

void LessonMaker::saved(const Result<std::filesystem::path>& as) {
    if (as) {
        savedAs = *as;
        unsaved = false;
        std::erase(files, savedAs);
        files.insert(files.begin(), savedAs);
    }
    message = as ? fmt::format("Saved: {}. Send it; the student drops it on Landfall's window.", as->string())
                 : as.error().message;
    const int bends = demandingBends(lesson), enough = bendsAWeek(true);
    if (as && bends > enough)
        message = fmt::format(
            "Saved: {}. It asks for {} bends of a full step and more: {} a week are enough in the "
            "first month, {} later.",
            as->filename().string(), bends, enough, bendsAWeek(false));
    refresh();
}

void LessonMaker::setSaved(std::vector<std::filesystem::path> found) {
    files = std::move(found);
    refresh();
}

void LessonMaker::opened(const std::filesystem::path& from, Result<LessonFile> read) {
    if (read) {
        lesson = std::move(read->lesson);
        savedAs = from;
        unsaved = false;
        open.reset();
        selected = 0;
        message = fmt::format("Opened: {}. Saving it again replaces the file, as long as its title stays.",
                              from.filename().string());
    } else {
        message = read.error().message;
    }
    refresh();
}

std::vector<LessonTask> LessonMaker::mayBeAdded() const {
    std::vector<LessonTask> found;
    std::ranges::copy_if(known, std::back_inserter(found), [this](const LessonTask& task) {
        return std::ranges::none_of(
            lesson.tasks, [&](const LessonTask& asked) { return matchKey(asked.name()) == matchKey(task.name()); });
    });
    return found;
}

void LessonMaker::addRow(std::string label, std::string value, RowKind kind) {
    rows.push_back({{.label = std::move(label), .value = std::move(value), .steps = false, .kind = kind}});
}

void LessonMaker::addText(std::string label, std::string text, std::string empty, std::size_t longest,
                          std::function<void(std::string)> keep, RowKind kind) {
    addRow(std::move(label), text.empty() ? std::move(empty) : shortened(text, false), kind);
    rows.back().choose = [this, text = std::move(text), longest, keep = std::move(keep)]() -> Wish {
        typing = text;
        typedAtMost = longest;
        keepTyped = keep;
        return {};
    };
}

void LessonMaker::addTempo(std::size_t index) {
    LessonTask& task = lesson.tasks[index];
    const Line& line = std::get<Line>(task.what);
    addRow("tempo to reach", task.tempo ? fmt::format("{:g} quarters a minute", *task.tempo) : "none",
           RowKind::grouped);
    rows.back().step = [&task, usual = line.tempo.value_or(60.0)](int by) {
        task.tempo =
            stepped(task.tempo, by * stepTempo, leastTempo, mostTempo, std::max(leastTempo, std::round(0.7 * usual)));
    };
}

void LessonMaker::addGoals(std::size_t index) {
    LessonTask& task = lesson.tasks[index];
    const std::size_t from = rows.size();
    const bool phrase = task.isPhrase();
    addRow(phrase ? "passes" : "tries", fmt::format("{}", task.tries), RowKind::grouped);
    rows.back().step = [&task, phrase](int by) {
        task.tries =
            std::clamp(task.tries + by * (phrase ? 1 : stepTries), 1, phrase ? mostLessonPasses : mostLessonTries);
    };
    addRow("aim", task.aim ? fmt::format("±{:g} cents", task.aim->value) : "the student's own", RowKind::grouped);
    rows.back().step = [&task](int by) {
        const auto now = task.aim ? std::optional(task.aim->value) : std::nullopt;
        const auto next = stepped(now, by * stepAim, finestAim, widestAim, usualAim);
        task.aim = next ? std::optional(Cents(*next)) : std::nullopt;
    };
    addRow("inside the aim", task.inside ? fmt::format("{} %", *task.inside) : "as they come", RowKind::grouped);
    rows.back().step = [&task](int by) {
        const auto next = stepped(task.inside, by * stepInside, leastInside, 100.0, 60.0);
        task.inside = next ? std::optional(static_cast<int>(*next)) : std::nullopt;
    };
    if (phrase && std::get<Line>(task.what).inTime) addTempo(index);
    addText(
        "a word on it", task.note, "none", longestTyped, [&task](std::string text) { task.note = text; },
        RowKind::grouped);
    for (std::size_t i = from; i < rows.size(); ++i) rows[i].task = index;
}

void LessonMaker::addTask(std::size_t index) {
    const LessonTask& task = lesson.tasks[index];
    const bool unfolded = open == index;
    addRow(task.name(), askedWords({.asked = task}), unfolded ? RowKind::openGroup : RowKind::group);
    rows.back().task = index;
    rows.back().step = [this, index](int by) { moveTask(index, by); };
    rows.back().choose = [this, index, unfolded]() -> Wish {
        open = unfolded ? std::nullopt : std::optional(index);
        return {};
    };
    if (unfolded) addGoals(index);
}

void LessonMaker::refresh() {
    rows.clear();
    addText("title", lesson.title, "", longestLessonTitle, [this](std::string text) {
        if (!text.empty()) lesson.title = std::move(text);
    });
    addText("from", lesson.from, "nobody named", longestLessonTitle,
            [this](std::string text) { lesson.from = std::move(text); });
    addText("note to the student", lesson.note, "none", longestTyped,
            [this](std::string text) { lesson.note = std::move(text); });
    for (std::size_t i = 0; i < lesson.tasks.size(); ++i) addTask(i);
    const std::vector<LessonTask> more = mayBeAdded();
    if (lesson.tasks.size() < mostLessonTasks && !more.empty()) {
        offered = std::min(offered, more.size() - 1);
        addRow("add", more[offered].name());
        rows.back().step = [this, count = static_cast<int>(more.size())](int by) {
            offered = static_cast<std::size_t>((static_cast<int>(offered) + by + count) % count);
        };
        rows.back().choose = [this]() -> Wish { return add(), Wish{}; };
    }
    addRow("save", savedAs.empty() ? "as a file to send" : savedAs.filename().string());
    rows.back().choose = [this] { return save(); };

    addSaved();

    selected = std::clamp(selected, 0, static_cast<int>(rows.size()) - 1);
    shown = {.rows = {}, .selected = selected, .message = message};
    for (const Row& row : rows) {
        shown.rows.push_back(row.shown);
        // A task's step moves it: no arrow about its words.
        const bool moves = row.shown.kind == RowKind::group || row.shown.kind == RowKind::openGroup;
        shown.rows.back().steps = row.step && !moves;
    }
    if (!typing) return;
    SettingRow& here = shown.rows[static_cast<std::size_t>(selected)];
    here.value = shortened(*typing, true);
    here.typing = true;
    if (here.value != *typing) shown.message = *typing;
}

// The row of what may be opened again.
void LessonMaker::addSaved() {
    if (files.empty()) return;
    fileChosen = std::min(fileChosen, files.size() - 1);
    std::string name = files[fileChosen].filename().string();
    addRow("open a saved one", shortened(name.substr(0, name.find(".lesson.toml")), false));
    rows.back().step = [this, count = static_cast<int>(files.size())](int by) {
        fileChosen = static_cast<std::size_t>((static_cast<int>(fileChosen) + by + count) % count);
    };
    rows.back().choose = [this] { return openSaved(); };
}

// What was put together and not saved is left only where that is asked for twice.
Wish LessonMaker::openSaved() {
    if (unsaved && !lesson.tasks.empty() && !std::exchange(leaves, true)) {
        message = "This lesson is not saved yet. Enter again leaves it and opens the other one.";
        return {};
    }
    leaves = false;
    return {.savedLesson = files[fileChosen]};
}

// Earlier or later; its goals and the mark go with it.
void LessonMaker::moveTask(std::size_t task, int by) {
    const auto to = static_cast<std::ptrdiff_t>(task) + by;
    if (to < 0 || to >= std::ssize(lesson.tasks)) return;
    const auto other = static_cast<std::size_t>(to);
    unsaved = true;
    std::swap(lesson.tasks[task], lesson.tasks[other]);
    if (open == task) open = other;
    else if (open == other) open = task;
    refresh();
    selected = static_cast<int>(std::ranges::find(rows, std::optional(other), &Row::task) - rows.begin());
}

void LessonMaker::add() {
    unsaved = true;
    lesson.tasks.push_back(mayBeAdded()[offered]);
    open.reset();
    ++selected;  // stays on "add", for the next one
}

void LessonMaker::takeOut(std::size_t task) {
    const auto first = std::ranges::find(rows, std::optional(task), &Row::task);
    unsaved = true;
    lesson.tasks.erase(lesson.tasks.begin() + static_cast<std::ptrdiff_t>(task));
    open.reset();
    selected = static_cast<int>(first - rows.begin());
}

Wish LessonMaker::save() {
    Wish wish;
    if (lesson.tasks.empty()) message = "There is nothing in it yet: add a drill or a phrase.";
    else wish.lesson = lesson;
    return wish;
}

Wish LessonMaker::typeInto(const Intent& intent) {
    switch (intent.kind) {
        case Kind::typed: append(*typing, static_cast<unsigned>(intent.value), typedAtMost); break;
        case Kind::erase: eraseLast(*typing); break;
        case Kind::choose:
            unsaved = true;
            keepTyped(trimmed(*typing));
            typing.reset();
            break;
        default: typing.reset(); break;
    }
    refresh();
    return {};
}

Wish LessonMaker::act(const Intent& intent) {
    if (typing) return typeInto(intent);
    message.clear();
    Wish wish;
    const int last = static_cast<int>(rows.size()) - 1;
    const bool again = intent.kind == Kind::pick && intent.value == selected;
    if (intent.kind == Kind::pick) selected = std::clamp(intent.value, 0, last);
    if (intent.kind == Kind::previous) selected = std::max(0, selected - 1);
    if (intent.kind == Kind::following) selected = std::min(last, selected + 1);
    const Row row = rows[static_cast<std::size_t>(selected)];  // what it does makes them anew
    const bool folds = row.shown.kind == RowKind::group || row.shown.kind == RowKind::openGroup;
    if (intent.kind != Kind::choose && intent.kind != Kind::pick) leaves = false;
    if ((intent.kind == Kind::less || intent.kind == Kind::more) && row.step) {
        unsaved = unsaved || row.task;
        row.step(intent.kind == Kind::less ? -1 : +1);
    }
    // A click marks a row first; a task has nothing else to be clicked for.
    if ((intent.kind == Kind::choose || again || (intent.kind == Kind::pick && folds)) && row.choose)
        wish = row.choose();
    if (intent.kind == Kind::decline && row.task) takeOut(*row.task);
    refresh();
    return wish;
}

}  // namespace landfall
