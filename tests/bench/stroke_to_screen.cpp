// How long from a pick stroke's sound to its trace on the screen: the real window and trainer, the simulated student in
// real time. stroke_to_screen [TRIES]; needs a display. The time counts from the moment the sample of the stroke was
// handed over by the source, so that a device's own delay is not in it, to the moment the display had the frame with
// the trace.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <mutex>
#include <utility>
#include <vector>

#include "gui/window.h"
#include "src/app/trainer.h"
#include "src/formats/settings_file.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

using Clock = std::chrono::steady_clock;

// When the stroke of each try was given away.
struct Strokes {
    std::mutex mutex;
    std::vector<Clock::time_point> given;
};

class TimedStudent : public SoundSource {
public:
    explicit TimedStudent(Strokes& told) : strokes(told), student({.sampleRate = 48000.0, .seed = 2}, true) {}
    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        const Heard heard = student.read(block);
        readSamples += heard.samples;
        const auto& truths = student.truths();
        while (next < truths.size() && truths[next].onset.value * 48000.0 < static_cast<double>(readSamples)) {
            const std::lock_guard lock(strokes.mutex);
            strokes.given.push_back(Clock::now());
            ++next;
        }
        return heard;
    }
    AskedPlayer* player() override { return &student; }

private:
    Strokes& strokes;
    SimulatedSource student;
    std::uint64_t readSamples = 0;
    std::size_t next = 0;
};

}  // namespace

int main(int count, char** words) {
    const std::size_t tries = count > 1 ? static_cast<std::size_t>(std::atoi(words[1])) : 10;
    TestFolder home;
    ::setenv("XDG_CONFIG_HOME", (home / "config").c_str(), 1);
    ::setenv("XDG_DATA_HOME", (home / "data").c_str(), 1);
    Settings settings;
    settings.cautionsSeen = "2027-03-01";
    settings.trace = Tracing::whilePlaying;
    if (const auto file = settingsFile(); !file || !saveSettings(*file, settings)) return 1;

    Strokes strokes;
    TrainerConfig config;
    config.source.input = "simulated";
    config.sitting.log = (home / "log.sqlite").string();
    config.open = [&](const SourceWish&) {
        return Result<std::unique_ptr<SoundSource>>(std::make_unique<TimedStudent>(strokes));
    };
    const auto waker = std::make_shared<Waker>();
    config.published = [waker] { waker->wake(); };
    auto trainer = Trainer::start(config);
    if (!trainer) {
        std::fprintf(stderr, "stroke_to_screen: %s\n", trainer.error().message.c_str());
        return 1;
    }

    std::vector<double> milliseconds;
    std::size_t seen = 0;  // strokes whose trace is on the screen
    bool drawing = false;  // the frame being drawn is the first with it
    WindowConfig window;
    window.waker = waker;
    window.drawn = [&](const Drawn&, Seconds) {
        if (!std::exchange(drawing, false)) return;
        const std::lock_guard lock(strokes.mutex);
        milliseconds.push_back(1000.0 * std::chrono::duration<double>(Clock::now() - strokes.given[seen - 1]).count());
    };
    const auto shown = runWindow(
        window,
        [&]() -> std::shared_ptr<const Snapshot> {
            const auto snapshot = (*trainer)->snapshot();
            std::size_t given = 0;
            {
                const std::lock_guard lock(strokes.mutex);
                given = strokes.given.size();
            }
            if (!snapshot || milliseconds.size() >= tries) return nullptr;
            // The stroke's own trace: it is being played, has a point and no mark, and is young.
            const auto& traces = snapshot->practice.traces;
            if (given > seen && !traces.empty() && traces.back().marks.empty() && !traces.back().points.empty()
                && traces.back().points.back().sinceStroke.value < 0.3) {
                seen = given;
                drawing = true;
            }
            return snapshot;
        },
        [](const Intent&) {});
    (*trainer)->end();
    if (!shown) {
        std::fprintf(stderr, "stroke_to_screen: %s\n", shown.error().message.c_str());
        return 1;
    }
    std::sort(milliseconds.begin(), milliseconds.end());
    if (milliseconds.empty()) return 1;
    std::printf("pick stroke to trace on screen: median %.0f ms, worst %.0f ms of %zu strokes\n",
                milliseconds[milliseconds.size() / 2], milliseconds.back(), milliseconds.size());
    return 0;
}
