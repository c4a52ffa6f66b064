// Everything on the screen at one moment, as plain values: no device, store or thread behind it. Made by the program,
// read by the views.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/music/move.h"
#include "src/practice/drill_summary.h"
#include "src/practice/landing.h"

namespace landfall {

enum class Screen { start, stringCheck, practice, drills, progress, settings, today, students, lesson };

// What the one big line is about.
enum class Moment { waiting, playing, landed, between, warmUp, rest, endOfDrill };

// guided: the trace is drawn while playing; afterTry: once the try is over; byEar: nothing until the player chooses to
// see.
enum class Feedback { guided, afterTry, byEar };

// What keeps a player from practising, or should be known. Down to stringSlipped it takes the big line; the rest is
// said in a line above.
enum class Trouble {
    noDevice,
    deviceLost,
    noSignal,
    tooQuiet,
    roomTooLoud,
    stringSlipped,
    clipping,
    gateCutting,
    effectHeard,
    targetUnheard,
    logTrouble,
    settingsOdd,
    noOutput,
    noSpeech,
    deviceBack,
    droppedSamples,
    simulated
};
struct Notice {
    Trouble trouble = Trouble::simulated;
    std::string detail;  // replaces the ready sentence where more is known: "G string 9 under: tighten it a little."
    bool operator==(const Notice&) const = default;
};

struct TryMark {
    Verdict verdict = Verdict::notMeasurable;
    std::optional<Cents> firstStop;  // against the target, + over
    std::optional<Seconds> arrival;  // since the pick stroke
    int step = 0;                    // which of the drill's steps it is of
    bool inside = false;             // good by the aim asked then; over frets: on the right one
};

struct TracePoint {
    Seconds sinceStroke;
    std::optional<Cents> fromTarget;  // the first step's; empty: no pitch, the line has a gap
};
// One string of several, against its own target.
struct StringTrace {
    std::string name;  // "B"
    std::vector<TracePoint> points;
};
struct Trace {
    std::vector<TracePoint> points;
    std::vector<TryMark> marks;          // one for each step that was judged; none yet while it is being played
    std::vector<StringTrace> strings{};  // of a move of several, from low to high; `points` is empty then
};

// One step of what a try plays. A drill has one, or more: a full-step bend and its release.
struct SweepStep {
    Cents target;  // against the first step's, 0 for that itself
    // the note its stroke sounds, against the first step's target; empty where it goes on from the step before
    std::optional<Cents> start;
    bool operator==(const SweepStep&) const = default;
};

// Another string that is struck too.
struct NeckFinger {
    NeckPlace place;
    std::optional<int> targetFret;  // slides
    bool operator==(const NeckFinger&) const = default;
};

struct Neck {
    int strings = 6, highestFret = 22;  // frets counted from the nut
    int capo = 0;
    bool leftHanded = false;               // mirrored
    std::vector<std::string> stringNames;  // string 1 (highest) first: "E", "B", ...
    std::optional<NeckPlace> place;        // counted from the capo
    std::optional<int> targetFret;         // slides
    std::vector<NeckFinger> others{};
};

struct Practice {
    Moment moment = Moment::waiting;
    Feedback feedback = Feedback::guided;
    std::string drill, progress;          // "Half up", "set 1 of 2 · try 3 of 6"
    std::string prompt;                   // waiting, playing: "G string · fret 7 · full step"
    std::string landed;                   // landed: "22 under"
    std::string summary;                  // end of drill: "Usually 14 cents off, mostly low"
    std::vector<EndRow> ends;             // end of drill: its places, beside the last time
    std::string sentence;                 // one sentence, one fault; at the end of a drill the next step
    bool guessing = false;                // by ear: the player may say how the last try sounded
    std::string nextDoes = "next drill";  // what the key for next does now: "next set", "skip the rest"; empty: nothing
    std::vector<TryMark> last;            // landed: a shape for each step stands beside the words
    std::vector<TryMark> lastMarks;       // between: up to five, the newest last
    std::vector<Trace> traces;            // the newest last; at most twelve are drawn
    std::vector<TryMark> scatter;         // the newest last
    // Traces and scatter are of before: what is being played, or was told last, is not among them.
    bool before = false;
    std::vector<SweepStep> steps{{}};  // what one try plays; a full-step bend has one that starts at -200
    int step = 0;                      // the one asked now
    Cents aim{25.0};
    Seconds sweepLength{3.0};      // time across the sweep
    Seconds restLeft, restLength;  // of the warm-up too
    Neck neck;
};

// One move of a line, a small sweep of its own.
struct Stone {
    SweepStep step;              // the note it starts on, against its target
    bool goesOn = false;         // under the stroke of the one before
    std::string name;            // "full step", "E4"
    std::optional<Cents> aim{};  // its own, in place of the line's; 0: an open end, nothing to hit
    Trace trace;                 // as it was played last
    std::string number;          // said of it: "−31", "F♯4", "died"
    Seconds length{1.0};         // across
    bool before = false;         // its trace is an earlier pass's
    bool failed = false;
};
// A line being practised, as stepping stones. The words are as of Practice.
struct Stones {
    Moment moment = Moment::waiting;  // landed: a pass is over
    std::string line, progress;       // "Lantern Street", "pass 3"
    std::string big, sentence;        // what to play next; the one thing to mend
    std::string againDoes, nextDoes;
    std::vector<Stone> stones;
    std::optional<std::size_t> next, mend;  // of the stones: to be played next; what the big line is about
    Cents aim{25.0};
    Seconds restLeft, restLength;  // of the warm-up too
};

struct Input {
    std::string device;      // "Line in, channel 1 · 48 kHz"; empty: none
    Decibels level{-140.0};  // held peak, dBFS
    bool clipping = false;
    bool operator==(const Input&) const = default;
};

struct InputChoice {
    std::string name;  // device and channel
    // of every channel of the device that is heard: the one that moves when a string is hit
    Decibels level{-140.0};
};
enum class StartStep { device, level, care, strings, firstDrill };
struct Start {
    StartStep step = StartStep::device;
    std::vector<InputChoice> inputs;
    int selected = 0;
    bool looking = false;  // for inputs: the list is not complete yet
    bool moves = false;    // the selected one has heard a string
    std::string trouble;   // why inputs cannot be looked for; else empty
    bool back = false;     // the step before can be gone back to
    std::string firstDrill, firstDrillTrains;
    Neck neck;  // the guitar, and where the first drill begins
};

struct StringReading {
    std::string name;             // "G string"
    std::optional<Cents> offset;  // + sharp
    bool skipped = false;
};
struct Strings {
    // "Play the G string, open", of an offer "Half step down?"; "G string 9 under: tighten it a little"
    std::string prompt, message;
    std::string question;                 // an offer to be answered: another tuning or reference pitch
    std::vector<StringReading> readings;  // string 1 first
    int asked = 0;                        // string number, 0 = done
};

struct SettingRow {
    std::string label, value;
    bool learning = false, typing = false;  // a key is to be pressed, text is being typed
    bool steps = true;                      // less and more change it
    enum class Kind { single, group, openGroup, grouped } kind = Kind::single;
};

struct DrillRow {
    std::string name, trains, where, length;
};
// A drill taken elsewhere on the neck: rows for string, lowest and highest fret.
struct PlaceChoice {
    std::string drill, plays;  // "Half up"; "Frets 5, 7, 9: three sets, 3 min."
    std::vector<SettingRow> rows;
    int selected = 0;
    Neck neck;  // from the lowest fret to the highest
};
// A place on it that was clicked, as Intent::Kind::pick counts it; below pickedFromNeck it is a row.
constexpr int pickedFromNeck = 1000;
constexpr int pickedPlace(NeckPlace place) { return pickedFromNeck * place.string + place.fret; }
struct DrillList {
    enum class Line { gestures, strings, drills };
    std::vector<DrillRow> rows;  // already filtered
    int selected = 0;
    std::string gestures, strings;  // the filters: "every gesture", "G string"
    // where up and down have led; less and more change that filter, among the drills the gesture's
    Line line = Line::drills;
    std::string message;  // one line where something is to be said: a drill file that cannot be read
    std::optional<PlaceChoice> elsewhere;
};
// A filter that was clicked, as Intent::Kind::pick counts it: below the rows.
constexpr int pickedFilter(DrillList::Line line) { return -1 - static_cast<int>(line); }

// "24 November 19:10", "Half up, Whole up", "30 tries · 21 inside"
struct SittingRow {
    std::string date, drills, result;
};
struct TryRow {
    std::string move, words;
    TryMark mark;
    bool struck = false;
};
struct Quantity {
    std::string name, value;
};
// A try looked at again.
struct OpenedTry {
    std::string title, sentence;  // "full step, G 7"; what was said of it
    std::vector<Quantity> quantities;
    std::optional<Practice> sweep;  // its trace; empty where no sound was kept, or while it is being read
    std::string sound;              // one line: whether it can be heard, and why not
    std::string notes{};            // what was written of it
    bool canHear = false;
};
// A place of the neck's map, as it is printed.
struct MapMark {
    enum class Lean { few, unsure, under, over };
    NeckPlace place;
    Lean lean = Lean::few;
    std::string bias, doubt;  // "−14", "±4"; where too little was played "12 ×" and nothing
};
// Where a day's first tries landed, and its later ones.
struct DayMark {
    struct Mean {
        Cents at, doubt;  // half of the 90 % interval
    };
    std::optional<Mean> first, later;
};
// How one kind of move lands.
struct Overview {
    // Where up and down have led: left and right change that, enter opens its tries.
    enum class Part { kind, map, figures, days, sittings };
    Part part = Part::kind;
    std::string kind, of, lean, trend;  // "Full step bends", "1 of 4", "14 under, sure to within 4"
    Neck neck;
    std::vector<MapMark> map;
    std::string mapWords;  // what its signs mean, or why it is blank
    std::vector<Quantity> figures;
    std::vector<DayMark> days;  // the latest at the right
    std::string daysWords;      // of the chosen one: "24 November: first tries 12 under ±6"
    int place = 0, figure = 0, day = 0;
    std::string care, sittings;  // "38 sittings, the last on 24 November 19:10"
};
struct ProgressPages {
    std::string whose;                 // where it is not the player's own
    std::optional<Overview> overview;  // the first page
    std::vector<SittingRow> sittings;  // the newest first
    int sitting = 0;
    std::string behind;  // which figure the tries are of; empty: of that sitting
    std::vector<TryRow> tries;
    std::optional<int> selectedTry;  // empty: the list of sittings has the keys
    // The chosen try among its neighbours: those of its sitting at its place over one another, and the last ones before.
    std::string hereWords, beforeWords;
    std::optional<Practice> here, before;
    std::optional<OpenedTry> opened;  // takes the whole screen
    std::string noteOn, noted;        // "try 3.12", what was written of it; empty: nothing that can be noted is chosen
    std::optional<std::string> typing;  // a note
    std::string message;                // one line where something is to be said: the log cannot be read
};
// What was clicked on the overview, as Intent::Kind::pick counts it: -1 the kind, -2 the sittings, else:
constexpr int pickedMap = 0, pickedFigures = 1000, pickedDays = 2000;

// "Tobi", "last played 3 days ago", "full step bends at G 7 land 14 under, sure to within 4", "Ask for ..."
struct StudentRow {
    std::string name, last, worst, ask;
};
// "Half up"; "18 tries, 60 % inside ±25 cents"; "11 of 18 tries, 7 of the last 11 inside"
struct TodayRow {
    std::string name, asked, done;
    bool over = false;  // all that was asked is reached
};
// A try to be heard in a lesson: "worst", "31 under", its curve.
struct LessonTry {
    std::string which, words;
    Practice sweep;
};
// "24 November · try 3.12", "the wrist, not the finger"
struct NoteRow {
    std::string of, text;
};
// One student, for their teacher to open before a lesson.
struct LessonPage {
    std::string student;
    std::string since, practised;      // what was played since the last lesson
    std::string best, fault, changed;  // one sentence each
    std::vector<SittingRow> sittings;  // since, the newest first
    std::string triesOf;               // "Three full step bends to hear"
    std::vector<LessonTry> tries;      // best, typical, worst
    std::string homeworkOf;            // the lesson given last
    std::vector<TodayRow> homework;    // asked beside done
    std::vector<NoteRow> notes;        // the newest first
    // Where up and down have led: the lesson itself, then each sitting, try and note.
    int selected = 0;
    std::string about;                  // what a note now is about: "the lesson"
    std::optional<OpenedTry> opened;    // takes the whole screen
    std::optional<std::string> typing;  // a note
    std::string message;
};
struct StudentList {
    std::vector<StudentRow> rows;  // those first who need a look
    int selected = 0;
    std::string message;
    std::string question;               // whose is to be changed, and how
    std::optional<std::string> typing;  // a name
    bool sure = false;                  // the question is whether to do what cannot be undone
    bool archived = false;              // the chosen one is
    std::optional<LessonPage> lesson;   // takes the whole screen
};

struct Today {
    std::string title, note;     // the lesson given last, and its words to the student
    std::vector<TodayRow> rows;  // Today itself, each task of the homework, what next; at its end what was done
    int selected = 0;
    bool ended = false;
    std::string keep;     // at its end, one sentence: what went best
    std::string message;  // one line where something is to be said: a lesson that cannot be read
};

struct SettingList {
    std::vector<SettingRow> rows;
    int selected = 0;
    std::string message;  // one line: a key that cannot be learned, settings that cannot be saved
};

// Key codes as GLFW 3 counts them; any key or pedal that sends one can be learned.
struct KeyMap {
    int again = 32, next = 257, discard = 259, see = 83;
    int under = 85, on = 73, over = 79;  // U, I, O: guesses by ear
};

// How large the window opens, plain pixels, and whether it fills the display.
struct WindowShape {
    int width = 1280, height = 800;
    bool full = false;
};

struct Snapshot {
    Screen screen = Screen::start;
    WindowShape window;
    std::string goesOn;  // besides the key: "a moment", "two muted strokes"; else empty
    bool dark = true;
    double textSize = 1.0;  // 1.0 to 1.5
    KeyMap keys;
    Input input;
    std::vector<Notice> notices;
    Start start;
    Strings strings;
    Practice practice;
    std::optional<Stones> stones;  // in place of it, on its screen
    DrillList drills;
    ProgressPages progress;
    SettingList settings;
    SettingList lesson;  // being put together: title, words, each task a group of its goals, what may be added, save
    StudentList students;
    Today today;
};

}  // namespace landfall
