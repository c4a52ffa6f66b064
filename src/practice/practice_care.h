// What hands, ears and eyes can take: the limits of a drill and of a sitting, and the cautions in words. Plain values,
// any thread.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "dsp/units.h"
#include "src/music/drill.h"
#include "src/music/guitar.h"
#include "src/music/line.h"

namespace landfall {

// Chosen for caution, not measured; breaks within every 20 to 30 minutes are the usual advice for players' hands
// (common practice).
struct CareLimits {
    Seconds drill{240.0};
    Seconds sitting{18.0 * 60.0};
    Seconds warmUp{120.0};  // easy fretting, then half steps, before the first full step of a sitting
    Seconds minuteOff{60.0};
    Seconds handAway{20.0};            // without a try or move: the guitar is out of hand, and the clocks stand still
    Seconds betweenMinutesOff{360.0};  // whichever comes first: six minutes or six sets
    int setsBetweenMinutesOff = 6;
    int demandingFirstMonth = 36;  // full-step and wider bends a sitting
    int demandingLater = 60;
    int demandingRunning = 12;   // never so many without an easier move or a minute off between
    int woundOctaveSlides = 12;  // a sitting, on each wound string
    int doubleBends = 12;        // a sitting: two strings at once take about twice the force of one
    int chordSlides = 24;        // a sitting: several fingertips rub along at once, pressed harder than one alone
    // A full step that needs more stays off until asked for, and strings bent together that need more; so do two-step
    // bends.
    double forceNewton = 20.0;
};

// What this sitting has asked of the hands so far; carried from one drill to the next. Times count guitar-in-hand time
// only.
struct SittingLoad {
    Seconds played{};
    Seconds sinceMinuteOff{};
    int setsSinceMinuteOff = 0;
    int demanding = 0;
    int demandingRunning = 0;
    std::map<int, int> woundOctaveSlides{};  // string -> slides
    int doubleBends = 0, chordSlides = 0;
};

// Why a drill is better not played at a place until somebody asks for it: a two-step bend, or a full step that the
// bending model puts over the limit or cannot judge (a wound string). Empty: nothing against it.
std::optional<std::string> heavyReason(const Drill& drill, const Guitar& guitar, NeckPlace place,
                                       const CareLimits& limits = {});

// Why the next try must not be played in this sitting any more; empty while it may.
std::optional<std::string> sittingReason(const Drill& drill, const Guitar& guitar, NeckPlace place,
                                         const SittingLoad& load, bool firstMonth, const CareLimits& limits = {});

// Adds one try to the load, whether it counted or not: the hand has played it.
void addTry(SittingLoad& load, const Drill& drill, const Guitar& guitar, NeckPlace place);

// The rest before the next set of a drill: the drill's own, or the minute off where it is due.
Seconds restBefore(const Drill& next, const SittingLoad& load, const CareLimits& limits = {});

// What is left of a minute off after some rest; zero where none is due. Until it is over the next set must wait.
Seconds minuteOffStillDue(const Drill& next, const SittingLoad& load, Seconds rested, const CareLimits& limits = {});

// A rest that was taken; a minute or more counts as a minute off.
void addRest(SittingLoad& load, Seconds rest, const CareLimits& limits = {});

// Warm-up still due before this drill; zero for drills without a full step, and once the sitting is under way.
Seconds warmUpDue(const Drill& drill, const SittingLoad& load, const CareLimits& limits = {});

// The same for a line, whose every bend counts: three full steps in it are three.
std::optional<std::string> heavyReason(const Line& line, const Guitar& guitar, const CareLimits& limits = {});
std::optional<std::string> sittingReason(const Line& line, const SittingLoad& load, bool firstMonth,
                                         const CareLimits& limits = {});
void addMove(SittingLoad& load, const Move& move, const Guitar& guitar);
// The minute off that is due before this line's next pass; zero: none is.
Seconds restBefore(const Line& next, const SittingLoad& load, const CareLimits& limits = {});
Seconds warmUpDue(const Line& line, const SittingLoad& load, const CareLimits& limits = {});

// Shown at the first start, several lines: hands, strings, hearing.
std::string_view cautions();

}  // namespace landfall
