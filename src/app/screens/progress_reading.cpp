#include "src/app/screens/progress_reading.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "dsp/pitch_tracker.h"
#include "dsp/quantise.h"
#include "dsp/statistics.h"
#include "gui/words.h"
#include "src/audio/sound_file.h"
#include "src/audio/take_file.h"
#include "src/review/student_review.h"
#include "src/store/students.h"

namespace landfall {

namespace {

constexpr double longestTake = 60.0;  // s; TakeKeeper keeps half of that

std::vector<PitchFrame> framesOf(const std::vector<float>& samples, double rate) {
    PitchTracker tracker({.sampleRate = rate});
    std::vector<float> padded = samples;
    padded.resize(samples.size() + static_cast<std::size_t>(tracker.latency().value * rate), 0.0f);
    quantise(padded);
    std::vector<PitchFrame> frames;
    for (std::size_t i = 0; i < padded.size(); i += PitchTracker::maxBlockSamples) {
        const std::size_t length = std::min(PitchTracker::maxBlockSamples, padded.size() - i);
        const auto output = tracker.process(std::span<const float>(padded).subspan(i, length));
        frames.insert(frames.end(), output.settled.begin(), output.settled.end());
    }
    return frames;
}

// With other targets than equal temperament the log knows how far the landing was off, not what the target was: the
// trace is moved so that its landing (60 to 310 ms after arrival, as the judge measures it) is where it was marked.
Cents targetShift(const Landing& landing, const std::vector<TracePoint>& points) {
    if (landing.target == Target::concert || !landing.landingTime || !landing.landingError) return Cents(0.0);
    const double arrival = (*landing.landingTime - landing.onset).value;
    std::vector<double> held;
    for (const TracePoint& point : points)
        if (point.fromTarget && point.sinceStroke.value >= arrival + 0.060
            && point.sinceStroke.value <= arrival + 0.310)
            held.push_back(point.fromTarget->value);
    if (held.empty()) return Cents(0.0);
    return Cents(landing.landingError->value - median(std::move(held)));
}

bool isThere(const std::filesystem::path& file) {
    std::error_code ignored;
    return std::filesystem::exists(file, ignored);
}

}  // namespace

Result<StudentReview> readProgress(const std::filesystem::path& file, const std::string& student) {
    StudentReview nothing;
    nothing.student.name = student;
    if (!isThere(file)) return nothing;
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    const auto students = log->students();
    if (!students) return students.error();
    // As the log's writer chooses among several of one name.
    const Student* known = nullptr;
    for (const Student& each : *students)
        if (each.name == student && (known == nullptr || (known->archived && !each.archived))) known = &each;
    return known ? review(*log, *known) : Result<StudentReview>(nothing);
}

Result<StudentReview> readProgress(const std::filesystem::path& file, const Student& student) {
    auto log = Log::open(file, Log::Access::read);
    return log ? review(*log, student) : Result<StudentReview>(log.error());
}

Result<Glance> readGlance(const std::filesystem::path& file, const Student& student) {
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    const auto read = shortReview(*log, student);
    return read ? glanceOf(*read, calendarNow()) : Result<Glance>(read.error());
}

Result<std::vector<StudentEntry>> readStudentEntries(const std::filesystem::path& file) {
    if (!isThere(file)) return std::vector<StudentEntry>{};
    auto log = Log::open(file, Log::Access::read);
    return log ? studentEntries(*log) : Result<std::vector<StudentEntry>>(log.error());
}

Result<LessonReview> readLesson(const std::filesystem::path& file, const Student& student) {
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    auto read = lessonReview(*log, student, calendarNow());
    if (read)
        for (Example& each : read->review.examples) each.oneTry.takeFile = log->takeOf(each.oneTry).string();
    return read;
}

Result<ReadTries> readTries(const std::filesystem::path& file, const ToRead& wanted) {
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    ReadTries read;
    if (wanted.what == ToRead::What::behind) {
        auto found = triesBehind(*log, wanted.student, wanted.behind);
        if (!found) return found.error();
        read = {found->count, std::move(found->tries)};
    } else {
        auto found = log->tries(wanted.sitting);
        if (!found) return found.error();
        for (LoggedTry& one : *found) read.tries.push_back({wanted.sitting, std::move(one)});
        read.count = static_cast<int>(read.tries.size());
    }
    for (TryBehind& one : read.tries) one.oneTry.takeFile = log->takeOf(one.oneTry).string();
    return read;
}

Result<Neighbours> readNeighbours(const std::filesystem::path& file, const ToRead& wanted) {
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    return neighboursOf(*log, wanted.sitting, wanted.oneTry);
}

Result<std::vector<std::string>> readStudents(const std::filesystem::path& file) {
    if (!isThere(file)) return std::vector<std::string>{};
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    auto students = log->students();
    if (!students) return students.error();
    std::vector<std::string> names;
    for (const Student& each : *students)
        if (!each.archived && (names.empty() || names.back() != each.name)) names.push_back(each.name);
    return names;
}

Result<std::vector<GuitarEntry>> readGuitars(const std::filesystem::path& file) {
    if (!isThere(file)) return std::vector<GuitarEntry>{};
    auto log = Log::open(file, Log::Access::read);
    return log ? guitarEntries(*log) : Result<std::vector<GuitarEntry>>(log.error());
}

std::optional<Drill> readWhatNext(const std::filesystem::path& file, const std::string& student, const Guitar& guitar) {
    if (!isThere(file)) return {};
    auto log = Log::open(file, Log::Access::read, Seconds(1.0));
    if (!log) return {};
    const auto known = findStudent(*log, student);
    if (!known) return {};
    const auto next = nextFor(*log, *known, guitar, calendarNow());
    return next && *next ? std::optional(drillOf(**next, guitar)) : std::nullopt;
}

Result<ReadTake> readTake(const LoggedTry& oneTry, const Guitar& guitar) {
    if (oneTry.takeFile.empty()) return Error{Error::Code::notFound, "The sound of this try was not kept."};
    auto file = SoundFile::open(oneTry.takeFile);
    if (!file) return file.error();
    ReadTake take;
    take.sampleRate = file->sampleRate();
    take.samples.resize(static_cast<std::size_t>(longestTake * take.sampleRate));
    take.samples.resize(file->read(take.samples));
    const Landing& landing = oneTry.landing;
    // A take begins half a second before its stroke, or with the first sample heard.
    const double stroke = std::min(TakeKeeper::Config{}.before.value, landing.onset.value);
    const double length = (landing.end - landing.onset).value;
    const Hertz target = frequencyOf(landing.move.to, guitar.a4);
    for (const PitchFrame& frame : framesOf(take.samples, take.sampleRate)) {
        TracePoint point{Seconds(frame.centre.value - stroke), std::nullopt};
        if (point.sinceStroke.value < 0.0 || point.sinceStroke.value > length) continue;
        if (frame.pitch) point.fromTarget = interval(target, *frame.pitch);
        take.trace.points.push_back(point);
    }
    const Cents shift = targetShift(landing, take.trace.points);
    for (TracePoint& point : take.trace.points)
        if (point.fromTarget) point.fromTarget = *point.fromTarget + shift;
    take.trace.marks = {markOf(landing, oneTry.aim)};
    take.trace.marks.front().step = 0;  // the sweep shows this step alone
    return take;
}

}  // namespace landfall
