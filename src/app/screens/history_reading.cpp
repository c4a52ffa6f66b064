#include "src/app/screens/history_reading.h"

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

Result<std::vector<ReadSitting>> readHistory(const std::filesystem::path& file, const std::string& student) {
    std::vector<ReadSitting> read;
    if (!isThere(file)) return read;
    auto log = Log::open(file, Log::Access::read);
    if (!log) return log.error();
    auto sittings = log->sittings(student);
    if (!sittings) return sittings.error();
    for (SittingSummary& summary : *sittings) {
        auto tries = log->tries(summary.id);
        if (!tries) return tries.error();
        for (LoggedTry& one : *tries) one.takeFile = log->takeOf(one).string();
        read.push_back({std::move(summary), std::move(*tries)});
    }
    return read;
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
