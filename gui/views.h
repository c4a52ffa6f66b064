// One frame of the window from a snapshot: draws it, tells where things stand, and returns what the mouse asked for.
// Window thread.
#pragma once

#include <algorithm>
#include <optional>
#include <vector>

#include "gui/canvas.h"
#include "gui/intent.h"
#include "gui/screen_view.h"
#include "gui/snapshot.h"
#include "src/practice/words.h"

namespace landfall {

// The whole display.
Intents drawScreen(Canvas& canvas, const Snapshot& snapshot);

// Height on the sweep for an error: nearly straight within the aim, ever flatter outside, so that a few cents and a
// whole octave of approach share one scale. y = middle - half·asinh(c/aim)/asinh(reach/aim); with several targets the
// sum of that over each of them, between the edges'.
struct SweepScale {
    Box box;
    Cents aim{25.0};
    std::vector<Cents> targets;          // the steps', against the first one's
    Seconds length{3.0};                 // at the right edge
    Cents low{-250.0}, high{250.0};      // at the lower and upper edge
    double lowest = 0.0, highest = 1.0;  // stretched() of them
    void show(Cents from, Cents to);     // sets the four
    double stretched(Cents fromFirst) const;
    float x(Seconds sinceStroke) const;
    float y(Cents fromFirst) const;
    float y(Cents fromTarget, int step) const;  // against that step's own target
};
SweepScale sweepScale(const Box& box, Cents aim, const std::vector<SweepStep>& steps, Seconds length);

// Beside the sweep and the neck, for their labels: both begin at the same place.
float labelGutter(const Canvas& canvas);

// What lies within the aim: hatched between two edges, which stand out from the panel 3 to 1.
inline constexpr float aimEdge = 0.65f;  // of the quiet ink
void drawAim(Canvas& canvas, const Box& band, float alpha = 1.0f);

// Which mark stands for a try.
Shape shapeOf(const TryMark& mark);

// Where the practice screen puts its parts; the scatter folds before the neck.
inline constexpr int sentenceLinesUsual = 2;
struct PracticeLayout {
    Box header, big, sentence, sweep, keys;
    std::optional<Box> scatter, neck;
};
PracticeLayout practiceLayout(const Canvas& canvas, int sentenceLines = sentenceLinesUsual);

// The parts, each in its box.
void drawSweep(Canvas& canvas, const Practice& practice, const Box& box);
void drawEnds(Canvas& canvas, const std::vector<EndRow>& rows, const Box& box);
void drawTrace(Canvas& canvas, const SweepScale& scale, const Trace& trace, bool newest, float alpha);
void drawScatter(Canvas& canvas, const Practice& practice, const Box& box);
void drawNeck(Canvas& canvas, const Neck& neck, const Box& box);
// The part of the neck that has marks; one that was clicked is returned. `chosen` of them is framed, if any is.
std::optional<int> drawNeckMap(Canvas& canvas, const Neck& neck, const std::vector<MapMark>& marks,
                               std::optional<int> chosen, const Box& box);
std::optional<NeckPlace> clickedPlace(const Canvas& canvas, const Neck& neck, const Box& box);
// where one is, and the input's level and device
Intents drawHeader(Canvas& canvas, const Snapshot& snapshot, const Box& box);
Intents drawKeys(Canvas& canvas, const Snapshot& snapshot, const Box& box);  // what the keys do here
float drawLevel(Canvas& canvas, const Input& input, const Box& box);         // returns the bar's filled width

// What stops practising has the big line.
std::optional<Words> stoppedBy(const Snapshot& snapshot);
// What is left of a rest, beside its word: no digit moves.
void drawRest(Canvas& canvas, const Box& big, float left, Seconds restLeft, Seconds restLength);

// The practice screen while a line is practised; the small sweeps' boxes, for tests.
Intents drawStones(Canvas& canvas, const Snapshot& snapshot);
Keys stonesKeys(const Snapshot& snapshot);
// One student before a lesson, in place of the list of students.
Intents drawLesson(Canvas& canvas, const LessonPage& page, const Box& body);
Keys lessonKeys(const LessonPage& page);
constexpr int noteLines = 3;  // of the type in which one is typed
// What is being typed, at the lower end of a screen's body, and how high that is.
float typingHeight(const Canvas& canvas, int lines);
void drawTyping(Canvas& canvas, const std::string& title, const std::string& typed, int lines, const Box& body);
Keys typingKeys(const std::string& what);
// A try that is looked at again.
void drawOpenedTry(Canvas& canvas, const OpenedTry& opened, const Box& body);
// Rows of boxes that wrap as text does; of a long line the rows about the one that matters.
struct StonesLayout {
    std::size_t first = 0;   // stone
    std::vector<Box> boxes;  // from there on
};
StonesLayout stonesLayout(const Canvas& canvas, const Box& area, std::size_t stones, std::size_t about);

// Where the parts of a screen beside practice stand.
struct PageLayout {
    Box header, body, keys;
};
PageLayout pageLayout(const Canvas& canvas);
inline void add(Intents& intents, const Intents& more) { intents.insert(intents.end(), more.begin(), more.end()); }
template <typename T>
const T& rowAt(const std::vector<T>& rows, int index) {
    return rows[static_cast<std::size_t>(index)];
}
std::string betweenArrows(const std::string& words);  // "← words →": left and right change them

// Of a list, the rows to draw so that the chosen one is among them: first row and how many. What stands behind the
// chosen one, and how many more are above and below.
struct Visible {
    int first = 0, count = 0;
};
Visible visible(int rows, int chosen, float rowHeight, const Box& list);
void drawChosen(Canvas& canvas, const Box& row);
void drawMore(Canvas& canvas, const Visible& shown, int rows, const Box& list);
// The share of its type's height at which each of a column's words fits into `room`.
template <typename Rows, typename Words>
float columnShare(const Canvas& canvas, const Rows& rows, TextSize type, float room, const Words& wordsOf) {
    float share = 1.0f;
    for (const auto& row : rows) share = std::min(share, canvas.fitting(wordsOf(row), type, room));
    return share;
}
// Of words between two arrows that were drawn in this box, what a click on one of the arrows asks for.
std::optional<Intent> clickedArrow(const Canvas& canvas, const Box& words, Screen screen);

}  // namespace landfall
