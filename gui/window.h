// The window: GLFW and OpenGL around the views, drawing only when something changed. Call from the main thread, which
// it keeps until it closes.
#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "dsp/units.h"
#include "gui/canvas.h"
#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/system/result.h"

namespace landfall {

// Says that there is a new snapshot. Any thread; never waits, whatever the display does.
class Waker {
public:
    void wake() {
        count.fetch_add(1);
        count.notify_one();
    }

private:
    friend class Bell;
    std::atomic<unsigned> count{0};
};

struct WindowConfig {
    std::string title = "Landfall";
    // plain pixels: a display with a factor of its own gets so many times more, as far as they fit
    int width = 1280, height = 800;
    // Rung at every new snapshot; without one the window looks for itself, 60 times a second.
    std::shared_ptr<Waker> waker;
    // Draws one frame of exactly that many pixels, writes it as PNG and returns.
    std::optional<std::filesystem::path> screenshot;
    // Told after each frame what it drew and how long that took, until the display had it; waiting for the display
    // costs time of its own.
    std::function<void(const Drawn&, Seconds)> drawn;
};

// `snapshot` is asked at least ten times a second and must return quickly. What it returns is drawn up to 60 times a
// second; the same pointer as before means that nothing changed, so that nothing is drawn. `act` is called on this
// thread. Fails where there is no display or OpenGL 3, naming the remedy. Intent quit, sent or returned as an empty
// snapshot, closes the window.
Result<void> runWindow(const WindowConfig& config, const std::function<std::shared_ptr<const Snapshot>()>& snapshot,
                       const std::function<void(const Intent&)>& act);

}  // namespace landfall
