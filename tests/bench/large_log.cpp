// Makes a log of many invented tries, and says what reading it costs: large_log FILE TRIES [STUDENTS]. Ten students, a
// sitting of a hundred tries a day; with curves. The processor's own time leaves out what else the computer does.
#include <sys/resource.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <optional>

#include <fmt/core.h>

#include "src/review/glance.h"
#include "src/store/students.h"
#include "tests/support/invented_practice.h"

namespace {

using namespace landfall;

template <typename Work>
void time(const char* what, Work&& work) {
    const auto begin = std::chrono::steady_clock::now();
    const std::clock_t cpu = std::clock();
    work();
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
    const double ofProcessor = static_cast<double>(std::clock() - cpu) / CLOCKS_PER_SEC;
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    fmt::print("{:40} {:7.3f} s, of a processor {:7.3f} s, {:4} MB at the most so far\n", what, took.count(),
               ofProcessor, usage.ru_maxrss / 1024);
}

template <typename T>
T sound(Result<T> result) {
    if (result) return std::move(*result);
    fmt::print(stderr, "{}\n", result.error().message);
    std::exit(1);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 3 && argc != 4) return 2;
    const std::filesystem::path file = argv[1];
    const int students = argc == 4 ? std::atoi(argv[3]) : 10, perSitting = 100,
              sittings = std::atoi(argv[2]) / students / perSitting;
    if (!std::filesystem::exists(file)) {
        Log log = sound(Log::open(file, Log::Access::write));
        const auto first = calendarNow() - std::chrono::hours(24 * sittings);
        for (int i = 0; i < students; ++i)
            if (!inventPractice(log, fmt::format("Student {}", i + 1), first, sittings, perSitting,
                                static_cast<unsigned>(i + 1)))
                return 1;
    }
    std::optional<Log> opened;
    time("opening it to write", [&] { opened.emplace(sound(Log::open(file, Log::Access::write))); });
    Log& log = *opened;
    time("the first try of a sitting", [&] {
        Sitting sitting;
        sitting.student = "Student 3";
        const auto put = log.put(sitting, practisedTry(1, sitting.started, {2, 8}, Gesture::bend, 4.0, false, true));
        if (!put) sound(Result<int>(put.error()));
    });
    time("last time, of a drill never played", [&] { sound(log.lastTime("Student 3", "Never played", 0)); });
    time("sittings with their figures", [&] { sound(log.sittings()); });
    time("the same once more", [&] { sound(log.sittings()); });
    time("the first sitting of a student", [&] { sound(log.firstSitting("Student 3")); });
    const Student student = sound(findStudent(log, "Student 3"));
    time("what next", [&] { sound(nextFor(log, student, Guitar{}, calendarNow())); });
    time("the review of one student", [&] { sound(review(log, student)); });
    time("the same of the last thirty days",
         [&] { sound(review(log, student, calendarNow() - std::chrono::hours(24 * 30))); });
    const StudentReview known = sound(review(log, student));
    const Behind figure{.kind = known.kinds.front().kind};
    time("the tries behind a figure", [&] { sound(triesBehind(log, student, figure)); });
    const TryBehind latest = sound(triesBehind(log, student, figure, 1)).tries.front();
    time("a try's neighbours", [&] { sound(neighboursOf(log, latest.sitting, latest.oneTry)); });
    time("the whole review of every student", [&] {
        for (const StudentEntry& each : sound(studentEntries(log))) sound(review(log, each.student));
    });
    time("a glance at every student", [&] {
        for (const StudentEntry& each : sound(studentEntries(log)))
            glanceOf(sound(shortReview(log, each.student)), calendarNow());
    });
    return 0;
}
