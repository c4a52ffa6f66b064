// What the progress screen shows, read from the log and from kept takes. Slow: call from a thread of its own, never the
// analysis or the window thread.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/music/drill.h"
#include "src/review/glance.h"
#include "src/review/lesson_review.h"
#include "src/review/student_review.h"
#include "src/store/log.h"
#include "src/store/students.h"

namespace landfall {

// What a student's log says; of a student or a log that is not there nothing.
Result<StudentReview> readProgress(const std::filesystem::path& log, const std::string& student);
Result<StudentReview> readProgress(const std::filesystem::path& log, const Student& student);
Result<Glance> readGlance(const std::filesystem::path& log, const Student& student);
// All students; none where there is no log yet.
Result<std::vector<StudentEntry>> readStudentEntries(const std::filesystem::path& log);

// What a teacher opens before a lesson; its examples' takes are named from the root.
Result<LessonReview> readLesson(const std::filesystem::path& log, const Student& student);

// More of it, once it is looked at.
struct ToRead {
    enum class What { tries, behind, neighbours };
    What what = What::tries;
    Student student{};
    std::int64_t sitting = 0;  // whose tries; of the try
    Behind behind{};           // the figure
    LoggedTry oneTry{};        // whose neighbours
};
struct ReadTries {
    int count = 0;  // of all
    std::vector<TryBehind> tries;
};
// `tries` in the order played, those behind a figure with the newest first.
Result<ReadTries> readTries(const std::filesystem::path& log, const ToRead& wanted);
Result<Neighbours> readNeighbours(const std::filesystem::path& log, const ToRead& wanted);

// The students of a log; none where it is not there yet.
Result<std::vector<std::string>> readStudents(const std::filesystem::path& log);

// The guitars of a log, as guitarEntries; none where it is not there yet.
Result<std::vector<GuitarEntry>> readGuitars(const std::filesystem::path& log);

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
