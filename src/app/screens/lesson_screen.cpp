#include "src/app/screens/lesson_screen.h"

#include <algorithm>
#include <utility>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/screens/typed_text.h"
#include "src/practice/verdict.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

std::string triesOf(const MoveKind& kind, std::size_t count) {
    return fmt::format("{} to hear, of the {} since then", count == 1 ? "A try" : "Three tries", nameOf(kind));
}

const char* nameOf(Example::Kind kind) {
    switch (kind) {
        case Example::Kind::best: return "best";
        case Example::Kind::typical: return "typical";
        case Example::Kind::worst: return "worst";
    }
    return "";
}

std::string sinceWords(const LessonReview& read) {
    const StudentReview& review = read.review;
    if (review.sittings.empty() && !read.since) return "Nothing has been played yet";
    const std::string since = read.since ? fmt::format("Since the lesson of {}", dayWords(*read.since))
                                         : "Since the beginning (no lesson is noted yet)";
    if (review.sittings.empty()) return fmt::format("{}: nothing played", since);
    const auto counted = [](std::size_t count, const char* one, const char* several) {
        return fmt::format("{} {}", count, count == 1 ? one : several);
    };
    return fmt::format("{}: {} on {}, {}", since, counted(review.sittings.size(), "sitting", "sittings"),
                       counted(static_cast<std::size_t>(review.days), "day", "days"),
                       counted(static_cast<std::size_t>(review.tries), "try", "tries"));
}

}  // namespace

LessonScreen::LessonScreen(Student of) : whose(std::move(of)) { refresh(); }

void LessonScreen::set(Result<LessonReview> read) {
    isRead = true;
    if (!read) return say(read.error().message);
    log = std::move(*read);
    std::ranges::reverse(log.review.sittings);
    opened = opened && chosenTry() != nullptr;
    refresh();
}

void LessonScreen::say(std::string words) {
    message = std::move(words);
    refresh();
}

int LessonScreen::count() const {
    return 1 + static_cast<int>(log.review.sittings.size() + log.review.examples.size() + log.notes.size());
}

LessonScreen::Place LessonScreen::place() const {
    if (selected <= 0) return {};
    auto at = static_cast<std::size_t>(selected - 1);
    for (const auto& [part, size] : {std::pair{Part::sitting, log.review.sittings.size()},
                                     {Part::oneTry, log.review.examples.size()},
                                     {Part::note, log.notes.size()}}) {
        if (at < size) return {part, at};
        at -= size;
    }
    return {};
}

const Example* LessonScreen::chosenTry() const {
    const Place here = place();
    return here.part == Part::oneTry ? &log.review.examples[here.index] : nullptr;
}

const SittingSummary* LessonScreen::sittingOf(std::int64_t id) const {
    const auto at = std::ranges::find(log.review.sittings, id, &SittingSummary::id);
    return at != log.review.sittings.end() ? &*at : nullptr;
}

// What a note that is begun now is about.
KeptNote LessonScreen::noteHere() const {
    KeptNote note;
    const Place here = place();
    if (here.part == Part::sitting) note.sitting = log.review.sittings[here.index].id;
    if (const Example* one = chosenTry()) {
        note.sitting = one->sitting;
        note.number = one->oneTry.number;
    }
    return note;
}

void LessonScreen::beginNote(KeptNote about) {
    typing = about.text;
    typedFor = std::move(about);
}

Wish LessonScreen::actTyping(const Intent& intent) {
    Wish wish;
    switch (intent.kind) {
        case Kind::typed: append(*typing, static_cast<unsigned>(intent.value), longestNote); break;
        case Kind::erase: eraseLast(*typing); break;
        case Kind::choose: {
            typedFor.text = trimmed(*typing);
            if (typedFor.uuid.empty()) typedFor.written = calendarNow();
            if (!typedFor.text.empty() || !typedFor.uuid.empty()) wish.note = Wish::Written{whose, typedFor};
            typing.reset();
            break;
        }
        case Kind::decline: typing.reset(); break;
        default: break;
    }
    return wish;
}

std::optional<TryChosen> LessonScreen::wanted(TryChosen::Kind what) const {
    const Example* one = chosenTry();
    const SittingSummary* of = one ? sittingOf(one->sitting) : nullptr;
    if (!of) return std::nullopt;
    return TryChosen{what, of->id, of->sitting.token, of->sitting.guitar, one->oneTry};
}

Wish LessonScreen::openTry() {
    Wish wish;
    opened = true;
    sound = TrySound::of(chosenTry()->oneTry);
    if (sound.none.empty()) wish.oneTry = wanted(TryChosen::Kind::read);
    return wish;
}

Wish LessonScreen::choose() {
    const Place here = place();
    if (here.part == Part::oneTry) return openTry();
    if (here.part == Part::note) beginNote(log.notes[here.index]);
    return {};
}

Wish LessonScreen::actOpened(const Intent& intent) {
    Wish wish;
    if (sound.playing && intent.kind != Kind::note) wish.oneTry = wanted(TryChosen::Kind::stop);
    switch (intent.kind) {
        case Kind::previous:
        case Kind::following: {
            const int before = selected;
            selected += intent.kind == Kind::previous ? -1 : 1;
            if (chosenTry() == nullptr) {
                selected = before;
                return {};
            }
            const Wish read = openTry();
            return read.oneTry ? read : wish;
        }
        case Kind::choose:
            if (!sound.heard) return {};
            sound.playing = !sound.playing;
            sound.noOutput = false;
            wish.oneTry = wanted(sound.playing ? TryChosen::Kind::play : TryChosen::Kind::stop);
            return wish;
        case Kind::less:
        case Kind::open: opened = sound.playing = false; return wish;
        case Kind::note: beginNote(noteHere()); return {};
        default: return {};
    }
}

Wish LessonScreen::act(const Intent& intent) {
    message.clear();
    Wish wish;
    if (typing) wish = actTyping(intent);
    else if (opened) wish = actOpened(intent);
    else switch (intent.kind) {
            case Kind::previous: selected = std::max(0, selected - 1); break;
            case Kind::following: selected = std::min(count() - 1, selected + 1); break;
            case Kind::choose: wish = choose(); break;
            case Kind::pick: {
                const bool again = intent.value == selected;
                selected = std::clamp(intent.value, 0, count() - 1);
                if (again) wish = choose();
                break;
            }
            case Kind::note: beginNote(noteHere()); break;
            case Kind::see: wish.lookAt = whose; break;
            case Kind::less:
            case Kind::open: left = true; break;
            default: break;
        }
    refresh();
    return wish;
}

void LessonScreen::setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take) {
    const Example* one = chosenTry();
    if (!opened || !one || one->oneTry.number != number || one->sitting != sittingId) return;
    sound.heard = static_cast<bool>(take);
    if (!take) sound.none = take.error().message;
    refresh();
}

void LessonScreen::played() {
    sound.playing = false;
    refresh();
}

void LessonScreen::cannotPlay() {
    sound.playing = false;
    sound.noOutput = true;
    refresh();
}

void LessonScreen::refreshOpened() {
    shown.opened.reset();
    const Example* one = opened ? chosenTry() : nullptr;
    if (!one) return;
    const SittingSummary* of = sittingOf(one->sitting);
    OpenedTry& open = shown.opened.emplace(openedTry(one->oneTry, of ? of->sitting.guitar : log.review.guitar, sound));
    if (!one->curve.empty()) open.sweep = sweepOf({traceOf(one->oneTry, one->curve)}, one->oneTry, false);
    std::vector<std::string> said;
    for (const KeptNote& note : log.notes)
        if (note.sitting == one->sitting && note.number == one->oneTry.number) said.push_back(note.text);
    open.notes = fmt::format("{}", fmt::join(said, " · "));
}

void LessonScreen::refresh() {
    const StudentReview& review = log.review;
    selected = std::clamp(selected, 0, count() - 1);
    shown = {};
    shown.student = whose.name;
    shown.message = !message.empty() ? message : isRead ? "" : "Reading the log ...";
    shown.selected = selected;
    shown.typing = typing;
    shown.about = subjectOf(typing ? typedFor : noteHere());
    if (!isRead) return;
    shown.since = sinceWords(log);
    shown.practised = practisedWords(review);
    if (!review.map.cells.empty() || !review.sittings.empty()) shown.fault = faultWords(review);
    if (!review.sittings.empty()) {
        shown.best = bestWords(review);
        shown.changed = changedWords(review);
    }
    for (const SittingSummary& each : review.sittings)
        shown.sittings.push_back({dateWords(each.sitting.started), fmt::format("{}", fmt::join(each.drills, ", ")),
                                  resultWords(each.gestures)});
    if (review.shown) shown.triesOf = triesOf(*review.shown, review.examples.size());
    for (const Example& each : review.examples)
        shown.tries.push_back({nameOf(each.kind), wordsOf(each.oneTry.landing, {.aim = each.oneTry.aim.value}).headline,
                               sweepOf({traceOf(each.oneTry, each.curve)}, each.oneTry, false)});
    if (!review.homework.empty()) {
        const Homework& given = review.homework.front();
        shown.homeworkOf = fmt::format("{}, given {}{}", given.title, dayWords(given.received),
                                       given.problem.empty() ? "" : ": " + given.problem);
        for (const TaskDone& task : given.tasks)
            shown.homework.push_back({task.asked.name(), askedWords(task), doneWords(task), task.isDone()});
    }
    for (const KeptNote& note : log.notes)
        shown.notes.push_back({fmt::format("{} · {}", dayWords(note.written), subjectOf(note)), note.text});
    refreshOpened();
}

}  // namespace landfall
