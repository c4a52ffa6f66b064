// The first start: which input, its level, the cautions, the strings, the first drill; each step can be skipped. One thread, the trainer's; opens no device.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/settings_screen.h"

namespace landfall {

// What to do now.
struct StartWish {
    bool listen = false;              // another input is marked: listen to input() and tell its level
    bool useInput = false;            // input() is what to practise with: keep it in the settings
    bool cautionsSeen = false;        // read and accepted: keep the day in the settings
    bool playFirst = false;           // the first drill
    std::optional<Screen> open;       // the string check, which comes back with stringsChecked(); or, at the end, another screen
};

class StartScreen {
public:
    // The input of a row.
    struct Chosen {
        bool simulated = false;
        std::string device;           // SoundInput::label; empty: the system's choice
        int channel = 1;
    };

    StartScreen(std::string firstDrill, std::string firstDrillTrains);

    // From the first step, or one step alone: then going on ends there.
    void begin();
    void show(StartStep step);
    // What is there; the input in use is marked. An empty list: nothing was found.
    void setInputs(const std::vector<SoundInput>& found, const Chosen& inUse);
    void lookingForInputs();
    // The held peaks of a device's channels, the first one first; the other devices are not heard. True: something is to be drawn.
    bool levels(const std::string& device, const std::vector<Decibels>& peaks);
    // Whether the level of the input marked is among them.
    bool marksMetered() const;
    void stringsChecked();

    StartWish act(const Intent& intent);
    const Start& view() const { return start; }
    // The one marked; empty while there is none.
    std::optional<Chosen> input() const;
    // Whether it is the one in use when the list came, or was marked with a key since (listen was said).
    bool marksHeard() const { return heard == start.selected; }

private:
    StartWish goOn(bool skipped);
    void mark(int row);

    Start start;
    std::vector<Chosen> rows;         // beside start.inputs
    int heard = -1;                   // row
    std::string metered;              // device
    bool alone = false;
};

}  // namespace landfall
