// What the history screen shows, read from the log and from kept takes. Slow: call from a thread of its own, never the
// analysis or the window thread.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/music/drill.h"
#include "src/store/log.h"

namespace landfall {

struct ReadSitting {
    SittingSummary summary;
    std::vector<LoggedTry> tries;
};

// Every sitting of a student, oldest first. A log that is not there yet has none.
Result<std::vector<ReadSitting>> readHistory(const std::filesystem::path& log, const std::string& student);

// The students of a log; none where it is not there yet.
Result<std::vector<std::string>> readStudents(const std::filesystem::path& log);

// What the student plays next on this guitar, as a drill; empty where the log knows nobody of that name, or is in use.
std::optional<Drill> readWhatNext(const std::filesystem::path& log, const std::string& student, const Guitar& guitar);

// A kept take: its sound, to be heard, and its trace, measured anew by the tracker as it was while playing.
struct ReadTake {
    std::vector<float> samples;
    double sampleRate = 48000.0;
    Trace trace;
};
// Fails where none was kept, or where its file is gone or no sound.
Result<ReadTake> readTake(const LoggedTry& oneTry, const Guitar& guitar);

}  // namespace landfall
