// One snapshot for each state of the window, of the invented student Ines: what the view tests check and show_states
// opens.
#pragma once

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

#include "gui/snapshot.h"
#include "gui/words.h"

namespace landfall {

// A full-step bend as a hand plays it: the start note, a smooth rise, a hold that ends a little low.
inline Trace inventedBend(double firstStop, double riseEnd, Verdict verdict, double until = 2.4) {
    Trace trace;
    for (double t = 0.0; t < until; t += 0.0053) {
        TracePoint point{Seconds(t), std::nullopt};
        const double begin = 0.35, top = riseEnd;
        const double share = t < begin ? 0.0
                             : t > top ? 1.0
                                       : 0.5 - 0.5 * std::cos(3.14159265 * (t - begin) / (top - begin));
        if (t > 0.03)
            point.fromTarget = Cents(-200.0 + (200.0 + firstStop) * share - (t > 1.7 ? 6.0 * (t - 1.7) : 0.0)
                                     + 0.7 * std::sin(40.0 * t));
        trace.points.push_back(point);
    }
    trace.marks = {{verdict, Cents(firstStop), Seconds(riseEnd)}};
    return trace;
}

// The same bend let home again under the same stroke.
inline Trace inventedRelease(double firstStop, double riseEnd, Verdict verdict, double home, double homeEnd,
                             Verdict homeVerdict) {
    Trace trace = inventedBend(firstStop, riseEnd, verdict, 4.1);
    for (TracePoint& point : trace.points) {
        if (!point.fromTarget) continue;
        const double t = point.sinceStroke.value, begin = homeEnd - 0.4;
        const double share = t < begin ? 0.0 : t > homeEnd ? 1.0 : 0.5 - 0.5 * std::cos(3.14159265 * (t - begin) / 0.4);
        const double held = std::min(point.fromTarget->value + (t > 1.7 ? 6.0 * (t - 1.7) : 0.0), firstStop + 1.0);
        point.fromTarget = Cents(held + share * (-200.0 + home - held) + 0.5 * std::sin(30.0 * t));
    }
    trace.marks.push_back({homeVerdict, Cents(home), Seconds(homeEnd), 1});
    return trace;
}

// The same bend under a held string, which it pulls along.
inline Trace inventedHarmony(double firstStop, double pulled) {
    Trace trace = inventedBend(firstStop, 0.8, firstStop < -10.0 ? Verdict::under : Verdict::inTune);
    trace.strings = {{"G", std::move(trace.points)}, {"B", {}}};
    trace.points.clear();
    for (const TracePoint& point : trace.strings[0].points) {
        auto held = point.fromTarget;
        if (held) held = Cents(1.0 + pulled * std::clamp((held->value + 200.0) / 200.0, 0.0, 1.0));
        trace.strings[1].points.push_back({point.sinceStroke, held});
    }
    return trace;
}

// Three strings slid up an octave over the frets.
// Of three strings, or of six.
inline Trace inventedChordSlide(bool six = false) {
    Trace trace;
    const double errors[] = {-3.0, 34.0, 5.0, 8.0, -12.0, 1.0};
    const std::vector<std::string> three{"D", "G", "B"}, all{"low E", "A", "D", "G", "B", "high E"};
    const std::vector<std::string>& names = six ? all : three;
    for (std::size_t j = 0; j < names.size(); ++j) {
        StringTrace& string = trace.strings.emplace_back(StringTrace{names[j], {}});
        for (double t = 0.03; t < 2.2; t += 0.012)
            string.points.push_back({Seconds(t), t < 0.5   ? std::optional(Cents(-1200.0))
                                                 : t < 0.9 ? std::nullopt
                                                           : std::optional(Cents(errors[j] + std::sin(30.0 * t)))});
    }
    trace.marks = {{Verdict::over, Cents(34.0), Seconds(0.9)}};
    return trace;
}

// As the program judges them, by the aim asked.
inline void markInside(Practice& practice) {
    const auto judge = [&](std::vector<TryMark>& marks) {
        for (TryMark& mark : marks)
            mark.inside = mark.verdict <= Verdict::over && mark.firstStop && abs(*mark.firstStop) <= practice.aim;
    };
    for (Trace& trace : practice.traces) judge(trace.marks);
    for (std::vector<TryMark>* marks : {&practice.scatter, &practice.last, &practice.lastMarks}) judge(*marks);
}

inline Snapshot inventedPractice() {
    Snapshot s;
    s.screen = Screen::practice;
    s.input = {"Line in, channel 1 · 48 kHz", Decibels(-14.0), false};
    Practice& p = s.practice;
    p.drill = "Whole up";
    p.progress = "set 1 of 3 · try 5 of 6";
    p.prompt = "G string · fret 9 · full step";
    p.sentence = "Bend in one movement: turn your forearm rather than push with a finger.";
    p.nextDoes = "next set";
    p.steps.front().start = Cents(-200.0);
    p.neck.stringNames = {"E", "B", "G", "D", "A", "low E"};
    p.neck.place = NeckPlace{3, 9};
    p.traces = {inventedBend(-31.0, 0.95, Verdict::under), inventedBend(14.0, 0.8, Verdict::near),
                inventedBend(-4.0, 0.84, Verdict::deadOn), inventedBend(-22.0, 0.78, Verdict::near)};
    for (const Trace& trace : p.traces) p.scatter.push_back(trace.marks.front());
    p.scatter.insert(p.scatter.begin(), {{Verdict::over, Cents(38.0), Seconds(0.62)},
                                         {Verdict::inTune, Cents(7.0), Seconds(0.7)},
                                         {Verdict::near, Cents(-18.0), Seconds(1.02)}});
    p.lastMarks = {{Verdict::over, Cents(38.0), Seconds(0.6)},
                   p.traces[0].marks[0],
                   p.traces[1].marks[0],
                   p.traces[2].marks[0],
                   p.traces[3].marks[0]};
    return s;
}

// A line of so many moves, the first `played` of them in this pass: full steps, releases, notes, now and then one that
// went wrong.
inline Stones inventedStones(std::size_t moves, std::size_t played) {
    Stones stones;
    stones.line = "Lantern Street";
    stones.progress = "pass 3";
    stones.big = "Bar 2, beat 3: full step, B string, fret 8";
    stones.againDoes = "from the start";
    constexpr double misses[] = {-4.0, 0.0, 2.0, 0.0, -31.0, 14.0, 0.0, 1.0};
    for (std::size_t i = 0; i < moves; ++i) {
        const bool bend = i % 4 == 0, release = i % 4 == 1;
        const double miss = misses[i % 8];
        Stone stone{.step = {Cents(0.0), Cents(bend      ? -200.0
                                               : release ? 200.0
                                                         : 0.0)},
                    .goesOn = release,
                    .name = bend      ? "full step"
                            : release ? "release"
                                      : "E4",
                    .trace = {},
                    .number = {},
                    .length = Seconds(1.0),
                    .before = i >= played};
        const double from = stone.step.start->value;
        for (double t = 0.0; t < 0.9; t += 0.005) {
            const double share = t < 0.1 ? 0.0 : t > 0.35 ? 1.0 : 0.5 - 0.5 * std::cos(3.14159265 * (t - 0.1) / 0.25);
            stone.trace.points.push_back({Seconds(t), Cents(from + (miss - from) * share + std::sin(40.0 * t))});
        }
        const Verdict verdict = std::abs(miss) < 5.0 ? Verdict::deadOn : miss < 0.0 ? Verdict::under : Verdict::near;
        stone.trace.marks = {{verdict, Cents(miss), Seconds(bend || release ? 0.35 : 0.0), 0, std::abs(miss) <= 25.0}};
        if (bend || release)
            stone.number = miss < 0.0 ? "−" + std::to_string(static_cast<int>(-miss)) : miss > 0.0 ? "+14" : "0";
        stone.failed = miss == -31.0 && i < played;
        if (i % 13 == 11) {
            stone.trace = {.points = {}, .marks = {{Verdict::notMeasurable, std::nullopt, std::nullopt}}};
            stone.number.clear();
            stone.failed = i < played;
        }
        stones.stones.push_back(std::move(stone));
    }
    return stones;
}

// The settings with one group unfolded.
inline SettingList inventedSettings(const std::string& unfolded) {
    struct Group {
        const char *name, *summary;
        std::vector<SettingRow> rows;
    };
    const auto opens = [](const char* label, const char* value) {
        return SettingRow{.label = label, .value = value, .steps = false};
    };
    const std::vector<Group> groups{
        {"guitar",
         "6 strings, standard",
         {{"guitar in hand", "standard"},
          {"strings", "6"},
          {"tuning", "standard"},
          {"capo", "none"},
          {"highest fret", "22"},
          {"plays", "right-handed"},
          {"reference pitch A4", "440 Hz"},
          {"gauges", "0.010 to 0.046 in"},
          {"third string", "plain"},
          {"scale", "647.7 mm"},
          {"fretboard radius", "not told"},
          {"action", "1.6 mm"},
          opens("rename", "enter"),
          opens("same as another", "enter"),
          opens("put away", "enter"),
          opens("string check", "enter")}},
        {"practice",
         "Ines, aim ±25 ¢",
         {{"student", "Ines"},
          {"aim", "±25 ¢"},
          {"trace", "after the try"},
          {"target", "concert pitch"},
          opens("cautions", "enter")}},
        {"hands full", "go on by two muted strokes", {{"go on", "by two muted strokes"}, {"results sound", "no"}}},
        {"keys",
         "again space, next enter",
         {opens("again", "space"), opens("next", "enter"), opens("drop this try", "backspace"),
          opens("see it now", "S"), opens("by ear: under", "U"), opens("by ear: on it", "I"),
          opens("by ear: over", "O")}},
        {"sound",
         "the system's choice",
         {{"input", "the system's choice"},
          {"channel", "1"},
          opens("input and level", "enter"),
          {"output", "the input's own"},
          {"target note", "before each place"},
          {"output level", "−12 dB"}}},
        {"screen", "text 100 %, dark", {{"text size", "100 %"}, {"colours", "dark"}, {"full screen", "off"}}},
        {"log",
         "the usual place, sound not kept",
         {{"sound of each try", "not kept"}, opens("place", "the usual place")}}};
    using RowKind = SettingRow::Kind;
    SettingList list;
    for (const Group& group : groups) {
        const bool open = group.name == unfolded;
        list.rows.push_back({.label = group.name,
                             .value = open ? "" : group.summary,
                             .steps = false,
                             .kind = open ? RowKind::openGroup : RowKind::group});
        for (SettingRow row : open ? group.rows : std::vector<SettingRow>{}) {
            row.kind = RowKind::grouped;
            list.rows.push_back(row);
        }
    }
    return list;
}

// Six weeks of Ines's full step bends: under on the G string, nothing sure on the B string.
inline Overview inventedOverview() {
    using Lean = MapMark::Lean;
    Overview shown;
    shown.kind = "Full step bends";
    shown.of = "1 of 4";
    shown.lean = "9 under on the whole, sure to within 4";
    shown.trend =
        "31 of 88 first tries inside ±25. First tries of a day landed 24 cents off on 10 days, 17 on the 10 after: no "
        "change that can be told from chance (sure to within 9).";
    shown.neck = neckOf(Guitar{});
    shown.map = {
        {{2, 8}, Lean::unsure, "+2", "±4"}, {{2, 10}, Lean::over, "+9", "±4"},   {{2, 12}, Lean::few, "6 ×", ""},
        {{3, 5}, Lean::under, "−17", "±5"}, {{3, 7}, Lean::under, "−14", "±4"},  {{3, 9}, Lean::under, "−11", "±4"},
        {{3, 12}, Lean::few, "12 ×", ""},   {{1, 12}, Lean::unsure, "−3", "±6"}, {{1, 15}, Lean::few, "4 ×", ""}};
    shown.mapWords =
        "− under, + over, ± how sure. Only framed: no sure side. 12 ×: tried so often, 20 are needed to say.";
    shown.figures = {{"inside the aim", "212 of 402"}, {"under it", "133 of 402"},
                     {"over it", "38 of 402"},         {"lost", "19 of 402"},
                     {"usually off by", "17 ¢"},       {"spread", "15 ¢"},
                     {"time to arrive", "0.74 s"},     {"a day's first tries", "14 under"},
                     {"its later tries", "7 under"}};
    for (int i = 0; i < 22; ++i) {
        const double slow = -16.0 + 0.35 * i, sway = 5.0 * std::sin(2.1 * i);
        shown.days.push_back({DayMark::Mean{Cents(slow - 6.0 + sway), Cents(9.0)},
                              DayMark::Mean{Cents(slow + 4.0 + 0.6 * sway), Cents(4.0)}});
    }
    shown.day = 21;
    shown.daysWords = "24 November: first tries 12 under ±8, later ones 4 under ±4";
    shown.care =
        "Bends of a full step and more: 34 in a sitting at the most (limit 60); 96 in the week from 2026-11-23 (limit "
        "300). Within the limits.";
    shown.sittings = "38 sittings, the last on 24 November 19:10";
    return shown;
}

inline void inventProgress(std::map<std::string, Snapshot>& all, const Snapshot& practice) {
    Snapshot progress = practice;
    progress.screen = Screen::progress;
    ProgressPages& pages = progress.progress;
    pages.sittings = {{"24 November 19:10", "Half up, Whole up", "bends 21 of 30 inside"},
                      {"22 November 20:02", "Half up", "bends 12 of 18 inside"},
                      {"21 November 18:45", "Half up, Twelve along", "bends 9 of 20 inside, slides 2 of 4"}};
    pages.overview = inventedOverview();
    all["progress"] = progress;
    all["progress-place"] = progress;
    all["progress-place"].progress.overview->part = Overview::Part::map;
    all["progress-place"].progress.overview->place = 4;
    all["progress-place"].progress.overview->mapWords =
        "G string · fret 7: 14 under, sure to within 4; 120 tries on 14 days";
    {
        Overview& figure = *(all["progress-figure"] = progress).progress.overview;
        figure.part = Overview::Part::figures;
        figure.figure = 3;
        Overview& left = *(all["progress-left-handed"] = all["progress-figure"]).progress.overview;
        left.neck.leftHanded = true;
        Overview& slides = *(all["progress-slides"] = progress).progress.overview;
        slides.kind = "Slides";
        slides.of = "4 of 4";
        slides.lean = "19 of 24 on the fret that was asked";
        slides.map.clear();
        slides.days.clear();
        slides.figures = {{"on the fret", "19 of 24"}, {"lost", "2 of 24"}, {"time to arrive", "0.41 s"}};
        slides.mapWords = "Slides count by the fret they reach: no map of cents.";
        slides.trend = slides.daysWords = "";
    }
    pages.overview.reset();
    pages.tries = {{"full step, G 9", "22 under", {Verdict::near, Cents(-22.0), Seconds(0.7)}, false},
                   {"full step, G 9", "dead on", {Verdict::deadOn, Cents(-4.0), Seconds(0.7)}, false},
                   {"full step, G 9", "31 over", {Verdict::over, Cents(31.0), Seconds(0.7)}, true},
                   {"full step, G 9", "died", {Verdict::died, std::nullopt, std::nullopt}, false},
                   {"full step, G 9", "14 over", {Verdict::near, Cents(14.0), Seconds(0.7)}, false}};
    pages.noteOn = "sitting 38";
    pages.noted = "Tired, stopped after ten minutes.";
    all["progress-sittings"] = progress;  // the sittings have the keys
    pages.noteOn = "try 38.2";
    pages.noted.clear();
    pages.selectedTry = 1;
    pages.here = practice.practice;
    pages.here->traces = {inventedBend(-22.0, 0.78, Verdict::near), inventedBend(14.0, 0.66, Verdict::near),
                          inventedBend(-31.0, 0.9, Verdict::under), inventedBend(-4.0, 0.7, Verdict::deadOn)};
    pages.hereWords = "G string · fret 9 · 24 November: this try and 3 others there";
    pages.before = practice.practice;
    pages.before->before = true;
    pages.before->traces = {inventedBend(-41.0, 1.1, Verdict::under), inventedBend(-36.0, 0.8, Verdict::under),
                            inventedBend(-18.0, 0.7, Verdict::near)};
    pages.beforeWords = "The last time there, 22 November: 3 tries";
    all["progress-tries"] = progress;
    {
        ProgressPages& behind = (all["progress-behind"] = progress).progress;
        behind.behind = "Full step bends · G string · fret 9 · the latest 200 of 412 tries";
        for (TryRow& row : behind.tries) row.move = "24 November, " + row.move;
        OpenedTry& opened = (all["progress-opened"] = progress).progress.opened.emplace();
        opened.title = "Whole up · G string · fret 9 · full step";
        opened.sentence = "Good, 22 under.";
        opened.quantities = {{"first stop", "22 ¢ under"},
                             {"landing", "20 ¢ under ± 0.6"},
                             {"hold", "1.2 s, 2 ¢ spread"},
                             {"time to arrive", "0.78 s"},
                             {"start note", "3 ¢ over"}};
        opened.sound = "Enter plays it.";
        opened.canHear = true;
        opened.sweep = pages.here;
        OpenedTry& silent = *(all["progress-opened-no-sound"] = all["progress-opened"]).progress.opened;
        silent.canHear = false;
        silent.sweep.reset();
        silent.sound = "The sound of this try was not kept. Turn on \"sound of each try\" in the settings.";
    }
    {
        ProgressPages& noted = (all["progress-noted"] = all["progress-tries"]).progress;
        noted.noted = "The wrist, not the finger: show it again next time.";
        ProgressPages& noting = (all["progress-note"] = all["progress-opened"]).progress;
        noting.opened->notes = noted.noted;
        noting.typing = "The wrist, not the finger: show it again next time. Then on the B string, and only";
    }
    all["progress-empty"] = progress;
    all["progress-empty"].progress = {};
    Snapshot& students = all["students"] = practice;
    students.screen = Screen::students;
    students.students.rows = {
        {"Noor", "last played yesterday · 9 of the last 14 days · homework 2 of 3",
         "full step bends at G 7 land 14 under, sure to within 4",
         "Ask about the hand: 71 bends of a full step and more in one sitting (limit 60)."},
        {"Tobi", "last played 23 days ago", "No place stands out from chance",
         "Ask what is in the way: 23 days without playing."},
        {"Ines", "last played today · 6 of the last 14 days", "half step bends at B 9 land 9 over, sure to within 3",
         "Ask for half step bends at B 9: 64 tries there."},
        {"Wren of the lower town, on the second evening course", "last played 2 days ago · 3 of the last 14 days",
         "No place stands out from chance", ""},
        {"Ilse", "has not played yet", "Nothing played yet", "Ask for a first drill together."}};
    students.students.selected = 1;
    all["students-empty"] = students;
    StudentList& renamed = (all["students-rename"] = students).students;
    renamed.question = "The new name of Tobi";
    renamed.typing = "Tobias of the mill";
    StudentList& merged = (all["students-merge"] = students).students;
    merged.question = "What Toby played is Tobi's then (5 sittings). This cannot be undone.";
    merged.sure = true;
    StudentList& deleted = (all["students-delete"] = students).students;
    deleted.question =
        "All that Tobi played would be deleted for ever, with curves and kept sounds (5 sittings). Copies stay as "
        "they are.";
    deleted.sure = true;
    all["students-empty"].students = {};
    LessonPage& page = (all["students-lesson"] = students).students.lesson.emplace();
    page.student = "Noor";
    page.since = "Since the lesson of 12 November: 5 sittings on 4 days, 148 tries";
    page.practised = "Whole up 60 tries, Half up 42, Lantern Street 30, and 2 more";
    page.best = "Half step bends: 34 of 42 inside the aim, usually 7 ¢ off; on the whole 2 over, sure to within 3.";
    page.fault = "Full step bends at G 7 land 14 under, sure to within 4, over all that was played lately.";
    page.changed = "Full step bends: 11 of 20 first tries inside ±25. Too early for a trend.";
    page.sittings = {{"24 November 19:10", "Whole up, Half up", "bends 21 of 30 inside"},
                     {"23 November 18:02", "Whole up, Lantern Street", "bends 18 of 32 inside, slides 4 of 6"},
                     {"21 November 20:31", "Half up", "bends 24 of 30 inside"},
                     {"19 November 19:00", "Whole up, Up and home", "bends 12 of 30 inside, releases 9 of 20"},
                     {"16 November 17:45", "Whole up", "bends 9 of 20 inside"}};
    page.triesOf = "Three tries to hear, of the full step bends since then";
    const auto sweep = [&](double stop, double end, Verdict verdict) {
        Practice one = practice.practice;
        one.moment = Moment::landed;
        one.steps = {{Cents(0.0), Cents(-200.0)}};
        one.traces = {inventedBend(stop, end, verdict)};
        one.traces.front().marks.front().inside = stop > -25.0;
        return one;
    };
    page.tries = {{"best", "Dead on", sweep(1.0, 0.8, Verdict::deadOn)},
                  {"typical", "14 under", sweep(-14.0, 0.9, Verdict::near)},
                  {"worst", "41 under", sweep(-41.0, 1.2, Verdict::under)}};
    page.homeworkOf = "Autumn, week 3, given 12 November";
    page.homework = {{"Half up", "18 tries, 60 % of them inside ±25", "done: 18 tries, 13 of 18 inside", true},
                     {"Whole up", "30 tries, 50 % of them inside ±25", "22 of 30 tries, 9 of 22 inside"},
                     {"Lantern Street", "6 passes, at 60 quarters a minute", "not begun"}};
    page.notes = {
        {"24 November · try 7.12", "Stops early and lets the finger do it: show the wrist again."},
        {"12 November · the lesson",
         "Whole steps on the G string from the wrist. The second bar of Lantern Street slowly, only up to the "
         "slide. Wants to play it at the evening in the lower town; four weeks are left."},
        {"5 November · sitting 4", "Tired, stopped after ten minutes."}};
    page.about = "the lesson";
    all["students-lesson-try"] = all["students-lesson"];
    LessonPage& chosen = *all["students-lesson-try"].students.lesson;
    chosen.selected = 8;
    chosen.about = "try 7.31";
    LessonPage& opened = *(all["students-lesson-opened"] = all["students-lesson-try"]).students.lesson;
    opened.opened = *all["progress-opened"].progress.opened;
    opened.opened->notes = "Stops early and lets the finger do it: show the wrist again.";
    LessonPage& typing = *(all["students-lesson-typing"] = all["students-lesson"]).students.lesson;
    typing.typing = "Whole steps on the G string from the wrist. The second bar slow";
    LessonPage& fresh = (all["students-lesson-new"] = students).students.lesson.emplace();
    fresh.student = "Ilse";
    fresh.since = "Nothing has been played yet";
    fresh.about = "the lesson";
    Snapshot& lesson = all["lesson"] = practice;
    lesson.screen = Screen::lesson;
    using RowKind = SettingRow::Kind;
    lesson.lesson.rows = {
        {.label = "title", .value = "Full steps that arrive", .steps = false},
        {.label = "from", .value = "Mara Quill", .steps = false},
        {.label = "note to the student", .value = "Two short evenings beat a long one.", .steps = false},
        {.label = "Half up", .value = "18 tries, 60 % inside ±25 cents", .steps = false, .kind = RowKind::openGroup},
        {.label = "tries", .value = "18", .kind = RowKind::grouped},
        {.label = "aim", .value = "±25 cents", .kind = RowKind::grouped},
        {.label = "inside the aim", .value = "60 %", .kind = RowKind::grouped},
        {.label = "a word on it", .value = "none", .steps = false, .kind = RowKind::grouped},
        {.label = "Lantern Street",
         .value = "6 passes, at 60 quarters a minute",
         .steps = false,
         .kind = RowKind::group},
        {.label = "add", .value = "Whole up"},
        {.label = "save", .value = "as a file to send", .steps = false},
        {.label = "open a saved one", .value = "first-full-steps"}};
    lesson.lesson.selected = 5;
    Snapshot& saved = all["lesson-saved"] = lesson;
    saved.lesson.selected = 10;
    saved.lesson.rows[10].value = "full-steps-that-arrive.lesson.toml";
    saved.lesson.message =
        "Saved: /home/mara/.local/share/landfall/lessons/full-steps-that-arrive.lesson.toml. Send it; the student "
        "drops it on Landfall's window.";
    all["lesson-order"] = lesson;
    all["lesson-order"].lesson.selected = 8;
    Snapshot& typed = all["lesson-typing"] = lesson;
    typed.lesson.selected = 2;
    typed.lesson.rows[2].typing = true;
    typed.lesson.rows[2].value = "…tired. Two short evenings beat a long on";
    typed.lesson.message =
        "Listen to the target first, sing it if you can, and stop when the fingertips are tired. Two short evenings "
        "beat a long on";
}

inline std::map<std::string, Snapshot> inventedScreens() {
    std::map<std::string, Snapshot> all;
    const Snapshot practice = inventedPractice();
    all["practice-waiting"] = practice;
    all["practice-not-begun"] = practice;
    all["practice-not-begun"].practice.sentence = "That was 71 under E4. Is the string in tune?";
    {
        Snapshot& s = all["practice-playing"] = practice;
        s.practice.moment = Moment::playing;
        s.practice.traces.push_back(inventedBend(-9.0, 0.9, Verdict::inTune, 0.7));
        s.practice.traces.back().marks.clear();
    }
    {
        Snapshot& s = all["practice-landed"] = practice;
        s.practice.moment = Moment::landed;
        s.practice.landed = "28 under";
        s.practice.traces.back() = inventedBend(-28.0, 0.78, Verdict::under);
        s.practice.scatter.back() = s.practice.lastMarks.back() = s.practice.traces.back().marks[0];
        s.practice.last = {{Verdict::under, Cents(-28.0), Seconds(0.78)}};
        s.practice.sentence = "About a quarter of a fret.";
    }
    {
        Snapshot& s = all["practice-first-word"] = all["practice-landed"];
        s.practice.landed = "under";
        s.practice.sentence.clear();
        s.practice.traces.pop_back();
        s.practice.scatter.pop_back();
        s.practice.before = true;
    }
    {
        Snapshot& s = all["practice-strings"] = practice;
        Practice& p = s.practice;
        p.moment = Moment::landed;
        p.drill = "One holds";
        p.prompt = "G 7 full step + B 8 held";
        p.landed = "G 31 under, B right";
        p.sentence = "The held B was pulled 7 up.";
        p.neck.place = NeckPlace{3, 7};
        p.neck.others = {{NeckPlace{2, 8}, std::nullopt}};
        p.traces = {inventedHarmony(6.0, 2.0), inventedHarmony(-31.0, 7.0)};
        p.last = p.traces.back().marks;
        p.scatter = {p.traces[0].marks[0], p.traces[1].marks[0]};
    }
    {
        Practice& p = (all["practice-interval"] = all["practice-strings"]).practice;
        p.landed = "G 31 under, B right";
        p.sentence = "The held B was pulled 7 up. The third is 24 too narrow to be pure.";
    }
    {
        Practice& p = (all["practice-not-sure"] = all["practice-strings"]).practice;
        p.drill = "Octaves along";
        p.prompt = "D 5 + B 6 · slide up 2 frets";
        p.landed = "D right, B not sure";
        p.sentence = "It cannot be told apart from the other string.";
        p.neck.place = NeckPlace{4, 5};
        p.neck.targetFret = 7;
        p.neck.others = {{NeckPlace{2, 8}, 10}};
        p.traces.back() = inventedHarmony(-3.0, 2.0);
        p.traces.back().marks.front().verdict = Verdict::notMeasurable;
        p.traces.back().strings[0].name = "D";
        p.scatter.pop_back();
        p.last = p.traces.back().marks;
    }
    {
        Snapshot& s = all["practice-chord"] = all["practice-strings"];
        Practice& p = s.practice;
        p.drill = "All the way up";
        p.prompt = "D 5 + G 4 + B 3 · slide up an octave";
        p.landed = "D right, G 34 over, B right";
        p.sentence.clear();
        p.steps.front().start = Cents(-1200.0);
        p.neck.place = NeckPlace{4, 5};
        p.neck.targetFret = 17;
        p.neck.others = {{NeckPlace{3, 4}, 16}, {NeckPlace{2, 3}, 15}};
        p.traces = {inventedChordSlide()};
        p.last = p.scatter = p.traces.back().marks;
    }
    {
        Practice& p = (all["practice-shape"] = all["practice-chord"]).practice;
        p.drill = "Shapes along";
        p.prompt = "low E 3 + A 5 + D 5 + G 4 + B 3 + high E 3 · slide up an octave";
        p.landed = "A 34 over";
        p.sentence = "Hidden by the others: D, B, high E.";
        p.neck.place = NeckPlace{6, 3};
        p.neck.targetFret = 15;
        p.neck.others = {{NeckPlace{5, 5}, 17},
                         {NeckPlace{4, 5}, 17},
                         {NeckPlace{3, 4}, 16},
                         {NeckPlace{2, 3}, 15},
                         {NeckPlace{1, 3}, 15}};
        p.traces = {inventedChordSlide(true)};
    }
    {
        Snapshot& s = all["practice-two-steps"] = practice;
        Practice& p = s.practice;
        p.drill = "Up and home";
        p.progress = "set 1 of 2 · try 4 of 6";
        p.prompt = "G string · fret 9 · full step, release";
        p.sentence = "Bend, hold, let it down, and keep your finger on the string until the lower note has sounded.";
        p.neck.place = NeckPlace{3, 9};
        p.steps = {{Cents(0.0), Cents(-200.0)}, {Cents(-200.0), std::nullopt}};
        p.sweepLength = Seconds(5.0);
        p.traces = {inventedRelease(-31.0, 0.95, Verdict::under, 12.0, 2.7, Verdict::near),
                    inventedRelease(14.0, 0.8, Verdict::near, 3.0, 2.3, Verdict::deadOn),
                    inventedRelease(-22.0, 0.78, Verdict::near, -4.0, 2.5, Verdict::deadOn)};
        p.scatter.clear();
        p.lastMarks.clear();
        for (const Trace& trace : p.traces) p.scatter.insert(p.scatter.end(), trace.marks.begin(), trace.marks.end());
        p.lastMarks.assign(p.scatter.end() - 4, p.scatter.end());
        all["practice-two-steps-between"] = s;
        all["practice-two-steps-between"].practice.moment = Moment::between;
        all["practice-two-steps-between"].practice.sentence = p.prompt;
        Practice& landed = (all["practice-two-steps-landed"] = s).practice;
        landed.moment = Moment::landed;
        landed.landed = "dead on";
        landed.last = {landed.traces.back().marks.back()};
        landed.sentence = "Dead on, and it stayed. The bend before it: 22 under.";
        Practice& first = (all["practice-two-steps-first-landed"] = s).practice;
        first.moment = Moment::landed;
        first.landed = "just under";
        first.step = 1;
        first.last = {landed.traces.back().marks.front()};
        first.sentence = "22 under: about a fifth of a fret.";
    }
    {
        Snapshot& s = all["practice-between"] = practice;
        s.practice.moment = Moment::between;
        s.practice.sentence = s.practice.prompt;
    }
    {
        Snapshot& s = all["practice-warm-up"] = practice;
        s.practice.moment = Moment::warmUp;
        s.practice.nextDoes = "start now";
        s.practice.progress = "set 1 of 3 · try 1 of 6 · guided";
        s.practice.sentence = "Easy fretting first, then half steps.";
        s.practice.traces.clear();
        s.practice.scatter.clear();
        s.practice.lastMarks.clear();
        s.practice.restLeft = Seconds(70.0);
        s.practice.restLength = Seconds(120.0);
    }
    {
        Snapshot& s = all["practice-rest"] = practice;
        s.practice.moment = Moment::rest;
        s.practice.nextDoes = "skip the rest";
        s.practice.sentence.clear();
        s.practice.restLeft = Seconds(13.0);
        s.practice.restLength = Seconds(20.0);
    }
    {
        Snapshot& s = all["practice-end"] = practice;
        s.practice.moment = Moment::endOfDrill;
        s.practice.progress.clear();
        s.practice.nextDoes = "next drill";
        s.practice.summary = "Usually 14 cents off, mostly low";
        s.practice.sentence =
            "9 of 15 within 25 cents; 2 died; 3 guided. By ear you guessed 4 of 6 right. You usually stop short by 12 "
            "cents: push a "
            "little further.";
    }
    all["practice-end"].practice.ends = {{"G string · fret 7", "5 of 6 good, 9 ¢ off", "4 of 6 good, 14 ¢ off"},
                                         {"G string · fret 9", "4 of 6 good, 14 ¢ off", "3 of 6 good, 22 ¢ off"},
                                         {"B string · fret 8", "0 of 3 good, 31 ¢ off", ""}};
    {
        Snapshot& s = all["practice-guessing"] = practice;
        s.practice.feedback = Feedback::byEar;
        s.practice.guessing = true;
        s.practice.sentence = "By ear: was it under, on it or over?";
        s.practice.traces.clear();
        s.practice.scatter.clear();
    }
    {
        Snapshot& s = all["practice-end-two-gestures"] = all["practice-end"];
        s.practice.summary = "Usually off by: bends 14, releases 6 cents";
        s.practice.sentence =
            "Bends: mostly low, 9 of 15 within 25 cents; 2 died. Releases: sometimes high, sometimes low, 12 of 13 "
            "within 25 cents. You "
            "usually stop short by 12 cents: push a little further.";
    }
    {
        Snapshot& s = all["practice-pre-bend"] = practice;
        Practice& p = s.practice;
        p.drill = "Bent before";
        p.progress = "set 1 of 2 · try 1 of 6 · guided";
        p.prompt = "B string · fret 10 · pre-bend full step, release";
        p.sentence = "Hold it for a second, and release to the fretted note.";
        p.neck.place = NeckPlace{2, 10};
        p.steps = {{Cents(0.0), Cents(0.0)}, {Cents(-200.0), std::nullopt}};
        p.sweepLength = Seconds(5.0);
        p.traces.clear();
        p.scatter.clear();
        p.lastMarks.clear();
    }
    {
        Snapshot& s = all["practice-by-ear"] = practice;
        s.practice.feedback = Feedback::byEar;
        s.practice.traces.clear();
        s.practice.scatter.clear();
    }
    {
        Snapshot& s = all["practice-slide-left-handed"] = practice;
        s.practice.drill = "Twelve along";
        s.practice.prompt = "B string · fret 3 · slide to fret 15";
        s.practice.sentence = "Keep the pressure even so that the note is still alive when you arrive.";
        s.practice.steps.front().start = Cents(-1200.0);
        s.practice.traces.clear();
        s.practice.neck.leftHanded = true;
        s.practice.neck.capo = 2;
        s.practice.neck.place = NeckPlace{2, 3};
        s.practice.neck.targetFret = 15;
    }
    const std::map<std::string, Notice> notices{
        {"no-device", {Trouble::noDevice, ""}},
        {"device-lost", {Trouble::deviceLost, ""}},
        {"no-signal", {Trouble::noSignal, ""}},
        {"too-quiet", {Trouble::tooQuiet, ""}},
        {"room-too-loud", {Trouble::roomTooLoud, ""}},
        {"string-slipped", {Trouble::stringSlipped, "G string 9 under: tighten it a little. Then play on."}},
        {"clipping", {Trouble::clipping, ""}},
        {"gate-cutting", {Trouble::gateCutting, ""}},
        {"effect-heard",
         {Trouble::effectHeard,
          "An effect makes the pitch waver (chorus, phaser, wah, heavy gain), so marks are less certain. Play dry if "
          "you can."}},
        {"target-unheard",
         {Trouble::targetUnheard, "Hold fret 11 once: until then this guitar's own pitch is not known."}},
        {"log-trouble", {Trouble::logTrouble, ""}},
        {"no-output", {Trouble::noOutput, ""}},
        {"no-speech", {Trouble::noSpeech, ""}},
        {"device-back", {Trouble::deviceBack, ""}},
        {"dropped-samples", {Trouble::droppedSamples, ""}},
        {"simulated", {Trouble::simulated, "No sound input here: the simulated student Ines plays."}}};
    for (const auto& [name, notice] : notices) {
        Snapshot& s = all["trouble-" + name] = practice;
        s.notices = {notice};
        if (notice.trouble == Trouble::stringSlipped) s.practice.nextDoes = "go on as it is";
        if (notice.trouble == Trouble::noDevice || notice.trouble == Trouble::deviceLost) s.input = {};
        if (notice.trouble == Trouble::noSignal) s.input.level = Decibels(-140.0);
        if (notice.trouble == Trouble::tooQuiet) s.input.level = Decibels(-48.0);
        if (notice.trouble == Trouble::clipping) s.input = {s.input.device, Decibels(0.0), true};
    }

    Snapshot start = practice;
    start.screen = Screen::start;
    start.start.inputs = {{"Built-in microphone", Decibels(-36.0)},
                          {"Line in, channel 1", Decibels(-17.0)},
                          {"Line in, channel 2", Decibels(-90.0)},
                          {"Simulated player", Decibels(-140.0)}};
    start.start.selected = 1;
    start.start.moves = true;
    start.start.firstDrill = "Half up";
    start.start.firstDrillTrains = "Half-step bends on the B string, frets 8 to 10: the lightest there are.";
    start.start.neck = practice.practice.neck;
    start.start.neck.place = NeckPlace{2, 8};
    const std::map<std::string, StartStep> steps{{"1-input", StartStep::device},
                                                 {"2-level", StartStep::level},
                                                 {"3-care", StartStep::care},
                                                 {"4-strings", StartStep::strings},
                                                 {"5-first-drill", StartStep::firstDrill}};
    for (const auto& [name, step] : steps) (all["start-" + name] = start).start.step = step;
    Start& waiting = (all["start-input-waiting"] = start).start;
    waiting.selected = 0;
    waiting.moves = false;
    waiting.inputs = {{"ALSA: Built-in analog: microphone (hw:0,0), channel 1", Decibels(-57.0)},
                      {"ALSA: Built-in analog: microphone (hw:0,0), channel 2", Decibels(-57.0)}};
    for (int channel = 1; channel <= 8; ++channel)
        waiting.inputs.push_back(
            {"ALSA: Interface with eight inputs: line (hw:1,0), channel " + std::to_string(channel), Decibels(-84.0)});
    waiting.inputs.push_back({"Simulated player", Decibels(-140.0)});
    all["start-no-input"] = start;
    all["start-no-input"].start.inputs.clear();

    Snapshot& strings = all["strings"] = practice;
    strings.screen = Screen::stringCheck;
    strings.strings = {"Play the G string, open", "B string in tune", "", {}, 3};
    strings.strings.readings = {{"high E string", Cents(-3.0), false}, {"B string", Cents(2.0), false},
                                {"G string", std::nullopt, false},     {"D string", Cents(-21.0), false},
                                {"A string", Cents(12.0), false},      {"low E string", std::nullopt, true}};
    all["strings-offer"] = strings;
    Strings& offer = all["strings-offer"].strings;
    offer.prompt = "Half step down?";
    offer.message = "High E string about a half step under: tighten it slowly, eyes away from the string";
    offer.question = "The strings are a half step low: is the guitar tuned that way (half step down)?";
    offer.asked = 1;
    offer.readings = {{"high E string", Cents(-97.0), false}, {"B string", Cents(-104.0), false},
                      {"G string", Cents(-99.0), false},      {"D string", Cents(-95.0), false},
                      {"A string", Cents(-102.0), false},     {"low E string", Cents(-100.0), false}};

    Snapshot& drills = all["drills"] = practice;
    drills.screen = Screen::drills;
    drills.drills.gestures = "every gesture";
    drills.drills.strings = "every string";
    drills.drills.rows = {
        {"Half up", "Half-step bends, the lightest there are.", "B string 8, 9, 10", "2 min"},
        {"Up and stay", "Reach the pitch, then keep it for two seconds.", "B string 8, 10; G string 9", "2 min"},
        {"Whole up", "Full-step bends on the B and G strings.", "B string 10, 8; G string 9", "3.5 min"},
        {"Twelve along", "Octave slides along one string.", "B string 3; G string 2; D string 2", "2 min"},
        {"One fret in", "Slide into the note from a fret below.", "B string 7, 9; G string 6", "2 min"},
        {"Up and home", "Bend, then release to the fretted note.", "B string 10; G string 9", "2.5 min"},
        {"Bent before", "Bend in silence, pick, and be right.", "B string 10, 8", "2.5 min"}};
    drills.drills.selected = 2;
    all["drills-other-filter"] = drills;
    all["drills-other-filter"].drills.line = DrillList::Line::strings;
    all["drills-none"] = drills;
    all["drills-none"].drills.rows.clear();
    all["drills-none"].drills.gestures = "pre-bends";
    all["drills-none"].drills.strings = "low E string";
    all["drills-none"].drills.line = DrillList::Line::strings;

    {
        PlaceChoice& choice = (all["drills-elsewhere"] = drills).drills.elsewhere.emplace();
        choice.drill = "Half up";
        choice.plays = "Frets 5, 6, 7: 18 tries, 3 min.";
        choice.rows = {{"string", "G string"}, {"lowest fret", "5"}, {"highest fret", "7"}};
        choice.selected = 1;
        choice.neck = practice.practice.neck;
        choice.neck.place = NeckPlace{3, 5};
        choice.neck.targetFret = 7;
    }

    const auto line = [&](const char* name, Stones stones) -> Stones& {
        return (all[name] = practice).stones.emplace(std::move(stones));
    };
    Stones& together = line("line-strings", inventedStones(8, 7));
    for (std::size_t i = 0; i < together.stones.size(); i += 3) {
        Stone& stone = together.stones[i];
        const bool slid = i % 2 == 1;
        stone.trace = slid ? inventedChordSlide() : inventedHarmony(i == 0 ? 6.0 : -31.0, 7.0);
        stone.step.start = Cents(slid ? -1200.0 : -200.0);
        stone.number = slid ? "+34" : i == 0 ? "+6" : "−31";
        stone.failed = i != 0;
        stone.length = Seconds(2.75);
    }
    together.line = "Both windows";
    together.moment = Moment::playing;
    together.big = "Bar 3, beat 1: slide, D 5 + G 4 + B 3";
    together.sentence = "Bar 2, beat 3: D 31 under, G right";
    together.next = 7;
    Stones& first = line("line-first-look", inventedStones(31, 0));
    for (Stone& stone : first.stones) stone.trace = {}, stone.number.clear();
    first.big = "Bar 1, beat 1: full step, B string, fret 8";
    first.sentence = "Take your time: you set the tempo, and a mistake stops nothing.";
    first.progress.clear();
    first.next = 0;
    Stones& playing = line("line-playing", inventedStones(31, 13));
    playing.moment = Moment::playing;
    playing.sentence = "Bar 2, beat 1: the full step stopped 31 under";
    playing.next = 13;
    Stones& over = line("line-pass-over", inventedStones(31, 31));
    over.moment = Moment::landed;
    over.big = "Bar 2, beat 1: the full step stopped 31 under";
    over.sentence = "27 of 31 landed, 1 stroke too many. Played at 72; 76 asked.";
    over.nextDoes = "only what failed";
    over.next = 0;
    over.mend = 4;
    Stones& part = line("line-part", inventedStones(3, 3));
    part.moment = Moment::landed;
    part.big = "All of it, every bend within 25 cents";
    part.sentence = "3 of 3 landed. Played at 72.";
    part.progress = "3 of 31 moves · pass 2";
    part.againDoes = part.nextDoes = "the whole line";
    part.next = 0;
    Stones& far = line("line-long", inventedStones(140, 90));
    far.moment = Moment::playing;
    far.next = 90;
    far.big = "Bar 12, beat 2.5: pre-bend step and a half, low E string, fret 12";
    Stones& rest = line("line-rest", inventedStones(31, 31));
    rest.moment = Moment::rest;
    rest.restLeft = Seconds(40.0);
    rest.restLength = Seconds(60.0);
    rest.againDoes.clear();
    line("line-no-signal", inventedStones(31, 0));
    all["line-no-signal"].notices = {{Trouble::noSignal, {}}};
    Stones& enough = line("line-end", inventedStones(31, 31));
    enough.moment = Moment::endOfDrill;
    enough.big = "Bar 2, beat 1: the full step stopped 31 under";
    enough.sentence =
        "36 full-step bends are enough for one sitting in the first month; half steps and slides are fine";
    enough.againDoes.clear();

    inventProgress(all, practice);

    Snapshot& settings = all["settings"] = practice;
    settings.screen = Screen::settings;
    settings.settings = inventedSettings("practice");
    settings.settings.selected = 3;
    SettingList& just = (all["settings-just"] = settings).settings;
    for (std::size_t i = 0; i < just.rows.size(); ++i)
        if (just.rows[i].label == "target") just.rows[i].value = "just (pure)", just.selected = static_cast<int>(i);
    just.message = "Two strings pure to each other; one string at concert pitch.";
    all["settings-folded"] = settings;
    all["settings-folded"].settings = inventedSettings("");
    all["settings-last"] = settings;
    all["settings-last"].settings = inventedSettings("guitar");
    all["settings-last"].settings.selected = 21;
    all["settings-guitar"] = settings;
    all["settings-guitar"].settings = inventedSettings("guitar");
    all["settings-guitar"].settings.selected = 1;
    all["settings-guitar"].settings.message = "There is only one guitar so far. Enter adds another.";
    all["settings-typing"] = settings;
    all["settings-typing"].settings.selected = 2;
    all["settings-typing"].settings.message = "Type the name of a student, then enter; esc leaves it.";
    all["settings-typing"].settings.rows[2].typing = true;
    all["settings-learning"] = settings;
    all["settings-learning"].settings = inventedSettings("keys");
    all["settings-learning"].settings.selected = 5;
    all["settings-learning"].settings.message = "Press a key, or the pedal; esc leaves it as it is.";
    all["settings-learning"].settings.rows[5].learning = true;
    Snapshot& today = all["today"] = practice;
    today.screen = Screen::today;
    today.today.title = "Full steps that arrive, from Mara Quill";
    today.today.note =
        "Listen to the target first. Stop when the fingertips are tired; two short evenings beat a long one.";
    today.today.rows = {
        {"Today, 20 minutes", "String check, warm-up, homework, what next, with rests", "", false},
        {"Half up", "18 tries, 60 % inside ±25 cents", "done: 18 tries, 12 of the last 15 inside", true},
        {"Lantern Street", "6 passes, at 60 quarters a minute",
         "2 of 6 passes, 14 of the last 18 inside, 52 quarters a minute reached", false},
        {"Full step on the G, slowly", "12 tries", "not begun", false},
        {"What next", "Full steps on the G string around fret 5 land about 12 under, sure to within 4.", "", false}};
    all["today-task"] = today;
    all["today-task"].today.selected = 2;
    all["today-no-homework"] = today;
    all["today-no-homework"].today.title = "No homework";
    all["today-no-homework"].today.note = "A lesson that your teacher sends is dropped on this window.";
    all["today-no-homework"].today.rows.erase(all["today-no-homework"].today.rows.begin() + 1,
                                              all["today-no-homework"].today.rows.end() - 1);
    all["today-bad-lesson"] = today;
    all["today-bad-lesson"].today.message =
        "/home/ines/week.lesson.toml:12:9: no drill 'Hlaf up': nearest are Half up; `landfall drills` lists all, or "
        "put "
        "it into the lesson, as [task.drill]";
    Snapshot& ended = all["today-ended"] = today;
    ended.today.ended = true;
    ended.today.keep = "Keep what you did in Half up: 14 of 18 good.";
    ended.today.rows = {{"Warm-up", "", "Usually 9 cents off, mostly low", false},
                        {"Half up", "", "Usually 14 cents off, mostly low", false},
                        {"Lantern Street", "", "4 passes", false},
                        {"What next", "", "Usually 18 cents off, mostly low", false},
                        {"Whole up", "", "left out: 36 full steps are enough for one sitting", false}};
    for (auto& [name, snapshot] : all) {
        markInside(snapshot.practice);
        ProgressPages& pages = snapshot.progress;
        for (TryRow& row : pages.tries) row.mark.inside = row.mark.firstStop && abs(*row.mark.firstStop) <= Cents(25.0);
        if (pages.opened && pages.opened->sweep) markInside(*pages.opened->sweep);
        for (auto* sweep : {&pages.here, &pages.before})
            if (*sweep) markInside(**sweep);
    }
    return all;
}

}  // namespace landfall
