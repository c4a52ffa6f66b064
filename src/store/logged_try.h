// What the log keeps of a sitting and of each try in it, and the one list of columns that writes and reads a try. Plain
// values, any thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>

#include "src/formats/table.h"
#include "src/music/guitar.h"
#include "src/practice/ear_guess.h"
#include "src/practice/landing.h"
#include "src/store/task.h"

namespace landfall {

// The calendar's clock, UTC; the log keeps milliseconds.
using CalendarTime = std::chrono::sys_time<std::chrono::milliseconds>;
CalendarTime calendarNow();
std::string utcText(CalendarTime time);    // "2027-03-01T18:05:09.250Z" (ISO 8601)
std::string localText(CalendarTime time);  // "2027-03-01 18:05" on this machine's clock
std::string dayText(CalendarTime time);    // "2027-03-01"

// `token` tells this sitting from every other one, in whichever file it is kept: saved twice it is still one sitting.
struct Sitting {
    std::string student;
    std::string studentUuid{};  // which of several of that name; empty: the first
    Guitar guitar;
    CalendarTime started = calendarNow();
    std::string software;  // version of the program that measured, "0.1.0"
    std::string input;     // what was heard: a device's name, a file's, or "simulated"
    std::int64_t token = newToken();

    static std::int64_t newToken();
};

// When the player was told how a try went.
enum class ToldWhen { live, after, byEar };

// How a move was to begin: with a pick stroke, on what sounded already, or by the fretting hand alone.
enum class StrokeKind { picked, goesOn, hammerOn, pullOff };
StrokeKind strokeKind(Gesture gesture, bool picked);

struct LoggedTry {
    int number = 1;  // 1-based within the sitting, in the order played
    CalendarTime at = calendarNow();
    std::string drill;
    Landing landing;
    Cents aim{25.0};
    bool guided = false;           // played with the live trace: stays out of totals and trends
    bool struck = false;           // "discard that": kept, not counted
    std::string takeFile;          // FLAC of the try, empty where none was kept; see Log::takeOf
    std::optional<Guess> guess{};  // by ear, before being told
    std::optional<ToldWhen> told{};
    std::optional<int> pass{};  // rises: what was played in one go, a drill's steps or a pass of a phrase, shares it
    std::optional<Cents> targetCents{};  // what it was held against, on the MIDI scale: 6900 = A4
    std::optional<Decibels> level{};     // of the hold, dBFS
    std::optional<double> brightness{};  // of the hold: the mean number of its partials, weighed with their power
    std::optional<double> tempo{};       // of a pass of a whole phrase, quarters a minute
    std::optional<double> askedTempo{};  // the one asked of it, where one was
    std::optional<double> beat{};        // of a phrase in time: of the move's anchor, in quarters from its beginning
    std::optional<Seconds> timing{};     // of a whole phrase's pass: against the player's own pulse, late is positive
    std::optional<StrokeKind> stroke{};
    std::string curve{};                 // packed (try_curve.h); read by Log::curve
    std::shared_ptr<const Task> task{};  // what was to be played; read by Log::taskOf
};

// A column of the try table. `set` is false where the cell cannot be this column's.
struct TryColumn {
    const char* name;  // with its unit: "landing_error_cents"
    const char* sqlType;
    int sinceSchema;
    Cell (*get)(const LoggedTry&);
    bool (*set)(LoggedTry&, const Cell&);
};

std::span<const TryColumn> tryColumns();

// The whole of the tries as a table: one column a measured quantity, times as ISO 8601.
Table tableOf(std::span<const LoggedTry> tries);

}  // namespace landfall
