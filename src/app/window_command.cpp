// `landfall` without a command: the window.
#include <chrono>
#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <tuple>
#include <utility>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/system/printable.h"
#ifdef LANDFALL_HAS_WINDOW
#include "gui/window.h"
#include "src/app/frame_record.h"
#include "src/app/trainer.h"
#endif

namespace landfall {

namespace {

struct WindowOptions {
    std::string drill = "Half up";
    SourceWish source{.input = {}, .channel = 0, .frames = 0};  // empty or 0: as the settings say
    SittingWish sitting;
    std::string size = "1280x800";
    bool heavy = false;
    bool keepTakes = false;
    std::string words;   // file for a FrameRecord
    double stall = 0.0;  // s; a fault switch: so long the window's thread stands still every 5 s
};

// "1280x800"; no smaller than what every screen fits in, no larger than displays are.
std::optional<std::pair<int, int>> sizeNamed(const std::string& text) {
    int width = 0, height = 0, read = 0;
    if (std::sscanf(text.c_str(), "%5dx%5d%n", &width, &height, &read) != 2 || static_cast<std::size_t>(read) != text.size()) return {};
    if (width < 1024 || height < 600 || width > 16384 || height > 16384) return {};
    return std::pair(width, height);
}
std::string notASize(const std::string& text) {
    return fmt::format("'{}' is not a size for the window: write it as 1280x800, no smaller than 1024x600", printable(text));
}

#ifdef LANDFALL_HAS_WINDOW
int openWindow(const WindowOptions& options) {
    WindowConfig window;
    std::tie(window.width, window.height) = *sizeNamed(options.size);
    std::optional<FrameRecord> record;
    if (!options.words.empty()) {
        auto created = FrameRecord::create(options.words);
        if (!created) return fail(created.error());
        record = std::move(*created);
        window.drawn = [&record](const Drawn& drawn, Seconds) { record->add(drawn); };
    }
    window.waker = std::make_shared<Waker>();
    auto trainer = Trainer::start({.drill = options.drill,
                                   .source = options.source,
                                   .sitting = options.sitting,
                                   .heavy = options.heavy,
                                   .keepTakes = options.keepTakes,
                                   .published = [waker = window.waker] { waker->wake(); }});
    if (!trainer) return fail(trainer.error());
    auto stalled = std::chrono::steady_clock::now();
    const auto snapshot = [&] {
        if (options.stall > 0.0 && std::chrono::steady_clock::now() - stalled > std::chrono::seconds(5)) {
            std::this_thread::sleep_for(std::chrono::duration<double>(options.stall));
            stalled = std::chrono::steady_clock::now();
        }
        return (*trainer)->snapshot();
    };
    const auto shown = runWindow(window, snapshot, [&](const Intent& intent) { (*trainer)->act(intent); });
    const int status = (*trainer)->end();
    return shown ? status : fail(shown.error());
}
#else
int openWindow(const WindowOptions&) {
    return fail({Error::Code::unsupported,
                 "this program was built without its window: build it with -DLANDFALL_WINDOW=ON, or practise in the terminal (landfall practise)"});
}
#endif

}  // namespace

void addWindow(CLI::App& app, int& status) {
    auto options = std::make_shared<WindowOptions>();
    app.add_option("--drill", options->drill, "to begin with: a built-in drill's name or a drill file")->capture_default_str();
    app.add_option("--input", options->source.input, "device, simulated, or a sound file (default: the settings'; without a device the simulated player)");
    app.add_option("--device", options->source.device, "input device, or a part of its name (default: the settings', else the system's)");
    app.add_option("--channel", options->source.channel, "input channel, from 1 (default: the settings', or a file's first)")->check(CLI::Range(1, 64));
    app.add_option("--rate", options->source.rate, "sample rate in Hz (default: the device's own)")->check(CLI::Range(16000, 192000));
    app.add_option("--frames", options->source.frames, "samples a block (default: the settings')")->check(CLI::Range(64, 512));
    app.add_option("--seed", options->source.seed, "of the simulated student")->capture_default_str();
    app.add_option("--pace", options->source.pace, "of the simulated student, so many times real time")->check(CLI::Range(0.1, 20.0))->check(isFinite)->capture_default_str();
    app.add_option("--student", options->sitting.student, "whose tries these are");
    app.add_option("--log", options->sitting.log, "log file");
    app.add_option("--size", options->size, "of the window, in pixels; a display with a factor of its own gets so many times more")
        ->capture_default_str()
        ->check([](const std::string& text) { return sizeNamed(text) ? std::string() : notASize(text); }, "WIDTHxHEIGHT");
    app.add_flag("--heavy", options->heavy, "ask for two-step bends and full steps over 20 N too");
    app.add_flag("--keep-takes", options->keepTakes, "keep the sound of every try as FLAC");
    // For tests and reports of faults; an empty group keeps them out of the help.
    app.add_option("--words", options->words, "a file for the words of every frame")->group("");
    app.add_option("--stall", options->stall, "every 5 s the window's thread stands still so long")->check(CLI::Range(0.0, 60.0))->group("");
    app.callback([&app, options, &status] {
        if (app.get_subcommands().empty()) status = openWindow(*options);
    });
}

}  // namespace landfall
