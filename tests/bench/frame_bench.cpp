// What a frame of the practice screen costs: frame_bench [STATE] [--size 1280x800] [--frames 300]. Needs a display;
// twelve traces, the newest growing as while a try is played. Prints the time of a frame by the clock, on the window's
// thread and on all threads: median, 95th percentile and worst.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <memory>
#include <string>
#include <vector>

#include "gui/window.h"
#include "tests/support/invented_screens.h"

using namespace landfall;

namespace {

double processorSeconds(clockid_t of) {
    timespec now{};
    clock_gettime(of, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

void print(const char* name, std::vector<double> seconds) {
    std::sort(seconds.begin(), seconds.end());
    const auto at = [&](double share) {
        return 1000.0 * seconds[static_cast<std::size_t>(share * static_cast<double>(seconds.size() - 1))];
    };
    std::printf("%-18s median %6.2f ms   95 %% %6.2f ms   worst %6.2f ms\n", name, at(0.5), at(0.95), at(1.0));
}

}  // namespace

int main(int count, char** words) {
    WindowConfig config;
    std::string state = "practice-playing";
    int frames = 300;
    for (int i = 1; i < count; ++i) {
        const std::string word = words[i];
        const std::string value = i + 1 < count ? words[i + 1] : "";
        if (word == "--size" && std::sscanf(value.c_str(), "%dx%d", &config.width, &config.height) == 2) ++i;
        else if (word == "--frames") frames = std::max(2, std::atoi(value.c_str())), ++i;
        else state = word;
    }
    const auto screens = inventedScreens();
    const auto found = screens.find(state);
    if (found == screens.end()) {
        std::fprintf(stderr, "frame_bench: no state '%s'; show_states lists them\n", state.c_str());
        return 2;
    }
    Snapshot shown = found->second;
    auto& traces = shown.practice.traces;
    while (!traces.empty() && traces.size() < 12)
        traces.insert(traces.begin(),
                      inventedBend(3.0 * static_cast<double>(traces.size()) - 20.0, 0.8, Verdict::near));

    std::vector<double> wall, thread, processor;
    double threadBefore = 0.0, before = 0.0;
    config.drawn = [&](const Drawn&, Seconds took) {
        wall.push_back(took.value);
        thread.push_back(processorSeconds(CLOCK_THREAD_CPUTIME_ID) - threadBefore);
        processor.push_back(processorSeconds(CLOCK_PROCESS_CPUTIME_ID) - before);
    };
    const auto result = runWindow(
        config,
        [&]() -> std::shared_ptr<const Snapshot> {
            if (static_cast<int>(wall.size()) >= frames) return nullptr;
            if (!traces.empty()) {
                auto& points = traces.back().points;
                if (points.empty() || points.back().sinceStroke.value > 2.9) points.clear();
                points.push_back({Seconds(points.empty() ? 0.0 : points.back().sinceStroke.value + 1.0 / 60.0),
                                  Cents(-60.0 + static_cast<double>(wall.size() % 90))});
            }
            auto next = std::make_shared<Snapshot>(shown);
            threadBefore = processorSeconds(CLOCK_THREAD_CPUTIME_ID);
            before = processorSeconds(CLOCK_PROCESS_CPUTIME_ID);
            return next;
        },
        [](const Intent&) {});
    if (!result || wall.size() < 2) {
        std::fprintf(stderr, "frame_bench: %s\n", result ? "the window was closed" : result.error().message.c_str());
        return 1;
    }
    // The first frame makes the letters.
    wall.erase(wall.begin());
    thread.erase(thread.begin());
    processor.erase(processor.begin());
    std::printf("%s, %dx%d, %zu traces, %zu frames\n", state.c_str(), config.width, config.height, traces.size(),
                wall.size());
    print("wall", wall);
    print("window's thread", thread);
    print("all threads", processor);
    return 0;
}
