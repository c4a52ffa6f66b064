// What every sitting shares: settings, the log being written, the words the player types, and how it ends. Main thread.
#pragma once

#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "src/app/drill_play.h"
#include "src/app/line_play.h"
#include "src/app/sound_source.h"
#include "src/formats/settings_file.h"
#include "src/practice/drill_summary.h"
#include "src/store/store_writer.h"

namespace landfall {

int fail(const Error& error);        // one line on stderr; exit status 1
int wrongUsage(const Error& error);  // the same of what stands on the command line; exit status 2

// concert, start note, own guitar, just; start-note and own-guitar too.
Result<Target> targetNamed(std::string name);
// For options' values: what is wrong with it; empty: nothing.
std::string isTarget(const std::string& name);

// Whether the program was told to end by a signal since the last call.
bool toldToEnd();

struct SittingWish {
    std::string student{};           // empty: the settings', else "player"
    std::string log{};               // empty: the settings'
    double aim = 0.0;                // cents; 0: the settings'
    std::optional<Target> target{};  // empty: the settings'
};

// The simulated student's own log, so that the player's has no row of it: made among the temporary files when it is
// first asked for, gone with this. What is played into it can be seen as long as that.
class SimulatedLog {
public:
    SimulatedLog() = default;
    ~SimulatedLog();
    SimulatedLog(const SimulatedLog&) = delete;
    SimulatedLog& operator=(const SimulatedLog&) = delete;
    // `wish`, with this log where the simulated student plays and no other is named.
    Result<SittingWish> chosenFor(SittingWish wish, const SourceWish& input);
    bool inUse() const { return !folder.empty(); }

private:
    std::filesystem::path folder;
};

// What the store has to say since the last call, one line each. `notices` may be filled from another thread.
class StoreNotices {
public:
    void add(const StoreNotice& notice);
    std::vector<std::string> take();

private:
    std::mutex mutex;
    std::vector<std::string> lines;
};

class RunningSitting {
public:
    // The simulated student plays under its own name, where `wish` names nobody.
    static Result<std::unique_ptr<RunningSitting>> begin(const SittingWish& wish, const SourceWish& input);
    // With settings that are in use already, `wish` wins over them.
    static Result<std::unique_ptr<RunningSitting>> begin(const SittingWish& wish, const SourceWish& input,
                                                         const Settings& inUse);

    const Settings& settings() const { return loaded; }
    StoreWriter& log() { return *writer; }
    std::int64_t sittingToken() const { return token; }  // in the log
    // A drill as this sitting plays it; without target notes, and no take is kept.
    DrillPlay::Config plan(const Drill& drill, const Guitar& guitar, bool heavy, double sampleRate) const;
    // A line as this sitting practises it.
    LinePlay::Config plan(const Line& line, const Guitar& guitar, std::optional<double> tempo, double sampleRate) const;
    // What the student played of a drill the last time; nothing where there was none, or the log cannot be read now.
    DrillSummary lastTime(const Drill& drill) const;
    // Warnings of the settings file and the cautions, once.
    void greet();
    // A line the player typed; "q" when the program was told to end. Log trouble is printed here as it comes.
    std::optional<std::string> word();
    // The guitar's strings as they are known now go into the settings file, where they differ.
    void keepStiffness(std::vector<double> stiffness);
    // Everything on the disk, or offered for saving elsewhere. The exit status.
    int end();

private:
    RunningSitting() = default;
    Settings loaded;
    std::filesystem::path settingsAt;
    std::vector<std::string> warnings;
    std::int64_t token = 0;
    bool firstMonth = true;  // of this student, by the log; where that cannot be read too
    StoreNotices notices;
    std::unique_ptr<StoreWriter> writer;  // last: its thread uses the notices
};

}  // namespace landfall
