// `landfall` without a command: the window.
#include <chrono>
#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <tuple>
#include <utility>

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

// "1280x800"; no smaller than what every screen fits in, no larger than displays are.
std::optional<std::pair<int, int>> sizeNamed(const std::string& text) {
    int width = 0, height = 0, read = 0;
    if (std::sscanf(text.c_str(), "%5dx%5d%n", &width, &height, &read) != 2
        || static_cast<std::size_t>(read) != text.size())
        return {};
    if (width < 1024 || height < 600 || width > 16384 || height > 16384) return {};
    return std::pair(width, height);
}
std::string notASize(const std::string& text) {
    return fmt::format("'{}' is not a size for the window: write it as 1280x800, no smaller than 1024x600",
                       printable(text));
}

}  // namespace

std::string isWindowSize(const std::string& text) { return sizeNamed(text) ? std::string() : notASize(text); }

#ifdef LANDFALL_HAS_WINDOW
int openWindow(const WindowOptions& options) {
    WindowConfig window;
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
                                   .lesson = options.file,
                                   .published = [waker = window.waker] { waker->wake(); }});
    if (!trainer) return fail(trainer.error());
    if (const auto shown = (*trainer)->snapshot())
        std::tie(window.width, window.height) =
            sizeNamed(options.size).value_or(std::pair(shown->window.width, shown->window.height));
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
                 "this program was built without its window: build it with -DLANDFALL_WINDOW=ON, or practise in the "
                 "terminal (landfall practise)"});
}
#endif

}  // namespace landfall
