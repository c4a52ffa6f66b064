// The window's other half: a thread on which the desks for input and practice, the sittings and the screens do their
// work, so that the window may stall without a sample being lost. Intents come in by a mailbox, snapshots go out.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/input_desk.h"
#include "src/app/screens/screens.h"
#include "src/app/sitting.h"
#include "src/system/result.h"

namespace landfall {

struct TrainerConfig {
    std::string drill = "Half up";  // to begin with
    // device, simulated, or a sound file; empty: as the settings say, and without any device the simulated student
    SourceWish source;
    SittingWish sitting;
    bool heavy = false;      // two-step bends and full steps over 20 N are asked for too
    bool keepTakes = false;  // besides what the settings say
    std::string lesson{};    // a file that is taken in first
    // Told, on the trainer's thread, whenever snapshot() has something new; must return at once.
    std::function<void()> published;
    // How a source is opened and which devices there are; tests bring their own.
    SourceOpener open = openSource;
    DeviceFinder findDevices = soundDevices;
};

class Trainer {
public:
    // Fails where the settings, the drill or a sound file cannot be read. Looks for devices, which takes a moment.
    static Result<std::unique_ptr<Trainer>> start(TrainerConfig config);
    ~Trainer();  // ends the thread
    Trainer(const Trainer&) = delete;
    Trainer& operator=(const Trainer&) = delete;

    // What to show now; the same pointer as before where nothing has changed, empty once the program is to end. Any
    // thread, never waits long.
    std::shared_ptr<const Snapshot> snapshot() const;
    // What the player asks for. Any thread, never waits long.
    void act(const Intent& intent);
    // Ends the thread and puts everything on the disk, or offers to save it elsewhere. The exit status.
    int end();

private:
    struct State;
    explicit Trainer(std::unique_ptr<State> made);
    std::unique_ptr<State> state;
};

}  // namespace landfall
