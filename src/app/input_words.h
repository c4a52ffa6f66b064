// What a terminal says of the input itself, each thing once, when it changes. One thread, the analysis thread.
#pragma once

#include <string>

#include "src/app/safe_lines.h"
#include "src/practice/listener_event.h"

namespace landfall {

class InputWords {
public:
    void hear(const InputLevel& level, SafeLines& lines) {
        const std::string now = level.clipping ? "The input is clipping. Turn down the gain on your interface."
                                : level.noSignal
                                    ? "No signal. Check the cable, the guitar's volume knob and the input channel."
                                    : "";
        if (!now.empty() && now != said) lines.say(now);
        if (!now.empty() || !level.noSignal) said = now;
    }

private:
    std::string said;
};

}  // namespace landfall
