// One function a command, with what the command line tells it. Main thread. Each returns the program's exit status: 0
// done, 1 failed (one line says why), 2 what the command line says is not understood.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "src/app/sitting.h"
#include "src/app/sound_source.h"
#include "src/music/lesson.h"
#include "src/store/log.h"

namespace landfall {

// The program without a command.
struct WindowOptions {
    std::string drill = "Half up";
    std::string file;                                           // a lesson, taken in first
    SourceWish source{.input = {}, .channel = 0, .frames = 0};  // empty or 0: as the settings say
    SittingWish sitting;
    std::string size;  // empty: as it was left
    bool heavy = false;
    bool keepTakes = false;
    std::string words;   // file for a FrameRecord
    double stall = 0.0;  // s; a fault switch: so long the window's thread stands still every 5 s
};
std::string isWindowSize(const std::string& text);  // what is wrong with it; empty: nothing
int openWindow(const WindowOptions& options);

struct PractiseOptions {
    std::string drill = "Half up";
    std::string phrase;                            // instead of a drill
    double tempo = 0.0;                            // of it, asked for, quarters a minute; 0: the player's own
    int mostPasses = 0;                            // of it
    bool homework = false;                         // in place of both, what the teacher asked
    SourceWish source{.channel = 0, .frames = 0};  // 0: as the settings say
    SittingWish sitting;
    bool skipCheck = false;
    bool heavy = false;
    bool noTone = false;
    int mostTries = 0;
    bool unpaced = false;
    bool keepTakes = false;
};
int runPractise(const PractiseOptions& options);

struct DemoOptions {
    std::uint32_t seed = 1;
    int tries = 10;  // a drill
    SittingWish sitting{.student = "Ines"};
};
int runDemo(const DemoOptions& options);

struct DrillsOptions {
    std::string drill;
    bool json = false;
    bool file = false;
    std::string tuning = "standard";
    int capo = 0;
    int frets = 22;
};
int runDrills(const DrillsOptions& options);

struct PhrasesOptions {
    std::string phrase;
    bool json = false;
    bool file = false;
    std::string midi;    // file to write
    double tempo = 0.0;  // quarters a minute; 0: the score's
};
int runPhrases(const PhrasesOptions& options);

struct LogOptions {
    std::string sitting;
    std::string log;
    std::string student;
    std::string strike;
    std::string restore;
    std::vector<std::string> note;  // on what, and its text
    bool csv = false;
    bool json = false;
};
int runLog(const LogOptions& options);
int runLogWhere(const std::string& log);
int runLogCheck(const std::string& log);
int runLogBackup(const std::string& log, const std::string& to);

// What a person at the terminal answers, without its end; empty too where nobody is there.
std::string answerTo(const std::string& question);
// Where nobody has said yet what the first student is called, a person at the terminal is asked, once: for a name that
// somebody else will read.
Result<void> askNameOnce(Log& log, Student& student);

// The log that is named, else the settings'; their warnings are printed.
Result<std::filesystem::path> logNamed(const std::string& named);

struct StudentsOptions {
    enum class Do { list, use, add, rename, merge, archive, back, remove };
    Do what = Do::list;
    std::string who, second;  // a name, or the beginning of a UUID; the new name, or with whom to merge
    std::string log;
    bool sure = false;  // do it without asking
    bool json = false;
};
int runStudents(const StudentsOptions& options);

struct GuitarsOptions {
    enum class Do { list, use, add, change, rename, merge, archive, back, remove };
    Do what = Do::list;
    std::string name, to;  // the new name, or with which to merge
    bool sure = false;     // do it without asking
    // add, change: what it is from now on; empty: as it was
    std::string tuning;
    std::vector<double> gauges;  // inches, the thinnest first
    std::optional<int> capo, frets;
    std::optional<double> scale, radius, action, a4;  // mm, Hz
    std::string third, plays;                         // "plain", "wound"; "right", "left"
    std::string log;
    bool json = false;
};
int runGuitars(const GuitarsOptions& options);

struct ExportOptions {
    std::string student;  // a name, or the beginning of a UUID
    std::string since;    // a day
    std::string output, log;
    bool takes = false;
};
int runExport(const ExportOptions& options);
int runImport(const std::string& file, const std::string& log);

struct NextOptions {
    std::string student;  // a name, or the beginning of a UUID
    std::string log;
    bool file = false;  // as a drill file
    bool json = false;
};
int runNext(const NextOptions& options);

struct OpenOptions {
    std::string file;              // a lesson; empty: shows the homework
    std::string student;           // a name, or the beginning of a UUID; empty: the settings'
    std::string putAway, takeOut;  // a lesson's title
    std::string log;
    bool json = false;
};
int runOpen(const OpenOptions& options);
// What of the homework comes next; fails where there is none. Names as of OpenOptions.
Result<LessonTask> homeworkNext(const std::string& log, const std::string& student);

struct ReportOptions {
    std::string student;  // a name, or the beginning of a UUID
    std::string since;    // a day
    std::string output;
    std::string log;
    bool csv = false;
    bool json = false;
};
std::string isDay(const std::string& text);              // what is wrong with it; empty: nothing
Result<CalendarTime> dayNamed(const std::string& text);  // its midnight by this machine's clock
int runReport(const ReportOptions& options);

struct MarkOptions {
    std::string take;
    std::vector<std::string> moves;
    std::string drill;
    std::string phrase;
    double tempo = 0.0;  // quarters a minute; 0: the phrase's own
    std::string tuning = "standard";
    int capo = 0;
    int frets = 22;
    int channel = 1;
    double a4 = 440.0;
    double aim = 25.0;
    std::string target = "concert";
    bool json = false;
    bool summary = false;
    std::string svg;  // a file for the picture of a line
};
int runMark(const MarkOptions& options);

struct CheckOptions {
    std::string log;
    bool tone = false;
    std::string device, output;
    int rate = 0;
};
int runCheck(const CheckOptions& options);

struct TrackOptions {
    std::string take;
    std::string stream = "settled";
    int channel = 1;
};
int runTrack(const TrackOptions& options);

int runDevices(bool json);

}  // namespace landfall
