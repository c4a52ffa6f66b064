// The first start: which input, its level, the cautions, the strings, the first drill; each step can be skipped. One
// thread, the trainer's; opens no device.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/settings_screen.h"
#include "src/audio/audio_device.h"

namespace landfall {

class StartScreen {
public:
    using Chosen = InputChosen;  // the input of a row

    explicit StartScreen(Drill firstDrill);

    // From the first step, or one step alone: then going on ends there.
    void begin();
    void toInputs() { to(StartStep::device); }  // back from a later step
    void show(StartStep step);
    // What is there beside what is heard (a device that serves one program only is not found while it is heard). The
    // input in use is marked at first. `trouble`: why none could be looked for; else empty.
    void setDevices(const std::vector<SoundDevice>& found, const Chosen& inUse, std::string trouble = {});
    void lookingForDevices();
    // The held peaks of all that is heard. Until a key has marked one, the mark goes to the one that moves. True:
    // something is to be drawn.
    bool levels(const std::vector<InputLevels>& heard);
    // Counts the times that a device was found which was not there before; 0: none is to be chosen now, or none is
    // there.
    unsigned long toMeter() const { return start.step == StartStep::device && !start.looking ? arrivals : 0; }
    void stringsChecked();

    // The string check comes back with stringsChecked().
    Wish act(const Intent& intent);
    const Start& view() const { return start; }
    // The one marked; empty while there is none.
    std::optional<Chosen> input() const;

private:
    Wish goOn(bool skipped);
    void to(StartStep step);
    void mark(int row);
    void list();
    bool hears(const std::string& device) const;

    Drill firstDrill;
    Start start;
    std::vector<Chosen> rows;          // beside start.inputs
    std::vector<SoundDevice> devices;  // of the rows, in their order
    std::vector<InputLevels> metered;
    Chosen used;
    int usedRow = -1;
    enum class MarkedBy { nobody, sound, key } markedBy = MarkedBy::nobody;
    unsigned long arrivals = 0;
    bool alone = false;
};

}  // namespace landfall
