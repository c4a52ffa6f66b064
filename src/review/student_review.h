// What one student's log says, for window, terminal and report alike: totals, how each kind of move lands, the map of
// the neck, what changed, examples, the hand's care, what next. Reads the log; slow enough for a thread of its own.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "src/review/bias_map.h"
#include "src/review/homework.h"
#include "src/review/next_phrase.h"
#include "src/review/next_place.h"
#include "src/review/progress.h"
#include "src/review/reviewed_try.h"
#include "src/store/log.h"
#include "src/store/notes.h"

namespace landfall {

// How a kind of move landed in the time asked for.
struct KindReview {
    MoveKind kind;
    int tries = 0, inside = 0, lost = 0;  // tries: counted ones without the guided
    int under = 0, over = 0;              // outside the aim, of those measured
    double typicalMiss = 0.0;             // cents; of those measured
    double spread = 0.0;  // of single tries among those measured, as a standard deviation, robust; cents
    int measured = 0, days = 0;
    std::optional<double> arrival;  // usual time from the stroke to arrival, s
    double bias = 0.0;              // mean of the days' means, cents: + over
    std::optional<double> doubt;    // half of its 90 % interval; empty: too few days
};

// A drill or phrase, as it was played in the time asked for.
struct TaskReview {
    std::string name;
    int sittings = 0, tries = 0, inside = 0;  // tries: counted ones, guided ones too
};

struct Example {
    enum class Kind { best, typical, worst };
    Kind kind = Kind::best;
    std::int64_t sitting = 0;
    LoggedTry oneTry;
    TryCurve curve;
};

struct WeekOfCare {
    CalendarTime begins;
    int sittings = 0;
    int bends = 0;  // of a full step or more
};
struct CareReview {
    std::vector<WeekOfCare> weeks;  // the last four that were practised, oldest first; Monday to Sunday
    int mostInSitting = 0;          // since
    int sittingLimit = 0;
    int weekLimit = 0;
};

struct StudentReview {
    Student student;
    std::optional<CalendarTime> since;
    std::vector<SittingSummary> sittings;  // since, oldest first
    int days = 0;                          // since
    int tries = 0;                         // since, dropped ones too
    std::vector<TaskReview> tasks;         // since, most tries first
    std::vector<GestureTally> totals;      // since
    std::vector<Homework> homework;        // whenever it was given
    std::vector<KindReview> kinds;         // since, most tries first
    std::vector<Progress> progress;        // over all that is known
    BiasMap map;                           // over all that is known
    Guitar guitar;                         // of the last sitting
    std::optional<MoveKind> shown;         // whose examples these are: what lands worst
    std::vector<Example> examples;         // best, typical, worst
    CareReview care;
    std::vector<KeptNote> notes;  // written since, the newest first
    std::string next;             // one sentence
};

// `since` empty: all sittings, and the tries of the last 160 days of practice.
Result<StudentReview> review(Log& log, const Student& student, std::optional<CalendarTime> since = {});

// What My students tells of each, so that a class is read in a second: homework, sittings (without drills and figures), the
// map, care, and how many tries of each kind were inside or lost, as review() has them; the rest is left out.
Result<StudentReview> shortReview(Log& log, const Student& student);

// What the student plays next on this guitar; full steps only as many a day as care allows a sitting, and a week as it
// allows a week.
Result<std::optional<NextPlace>> nextFor(Log& log, const Student& student, const Guitar& guitar, CalendarTime now);

// The same of a phrase, which of `lines`.
Result<std::optional<NextPhrase>> nextPhraseFor(Log& log, const Student& student, const Guitar& guitar,
                                                std::span<const Line> lines, CalendarTime now);

// Bends of a full step and more that a week may hold.
int bendsAWeek(bool firstMonth);
// In one sentence against the limits, the last so many weeks; empty: none was practised.
std::string wordsOf(const CareReview& care, std::size_t weeks);

// Whose tries a figure of a review was made of.
struct Behind {
    // measured: with a first stop of the hand's; first: of each day's first ones; later: the others of those measured
    enum class Which { all, inside, under, over, lost, measured, first, later };
    MoveKind kind;
    Which which = Which::all;
    std::optional<NeckPlace> place{};
    std::optional<int> day{};  // as DayMean counts them
};
struct TryBehind {
    std::int64_t sitting = 0;
    LoggedTry oneTry;
};
struct TriesBehind {
    int count = 0;                 // of all
    std::vector<TryBehind> tries;  // the latest of them, the newest first
};
Result<TriesBehind> triesBehind(Log& log, const Student& student, const Behind& behind, std::size_t most = 200);

// A try among its neighbours: the same move at the same place in the same sitting, and the last time before it.
struct CurvedTry {
    LoggedTry oneTry;
    TryCurve curve;
};
struct Neighbours {
    std::vector<CurvedTry> here;         // in the order played, the try itself among them; dropped ones are not
    std::vector<CurvedTry> before;       // of the last sitting before with such tries
    std::optional<CalendarTime> when{};  // that began then
};
Result<Neighbours> neighboursOf(Log& log, std::int64_t sitting, const LoggedTry& oneTry, std::size_t most = 12);

// One sentence: the place that deserves it most, with its reason and how sure it is; where nothing is known well enough,
// that. Places that need much force are never asked for.
std::string whatNext(const BiasMap& map, const Guitar& guitar);

}  // namespace landfall
