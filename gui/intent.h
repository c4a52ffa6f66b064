// What the player asks for with a key or the mouse; the program decides what it means. Plain values, any thread.
#pragma once

#include <string>
#include <vector>

#include "gui/snapshot.h"

namespace landfall {

struct Intent {
    enum class Kind {
        again,
        next,
        discard,
        see,  // practising
        guessUnder,
        guessOn,
        guessOver,  // by ear, of the last try
        open,       // another screen: `screen`
        previous,
        following,  // up and down a list
        // left and right: change a setting or a filter, enter or leave a sitting's tries
        less,
        more,
        // enter and backspace outside practice: start, accept, learn; skip, refuse, strike
        choose,
        decline,
        pick,     // row `value` was clicked; of a sitting's or a figure's tries -1 - row
        learned,  // a key was pressed while one is being learned: code `value`
        // a character (code point `value`) while text is being typed, and its last one taken back
        typed,
        erase,
        note,  // one is to be written on what is chosen
        // of the chosen student; archive brings back, too
        rename,
        merge,
        archive,
        remove,
        fullScreen,  // to it and back
        resized,     // the window, by hand: `value` is a packed size
        dropped,     // a file on the window: `file`
        today,       // begins now
        quit
    };
    Kind kind = Kind::again;
    Screen screen = Screen::practice;
    int value = 0;
    std::string file{};
};
using Intents = std::vector<Intent>;

// A window's size in one number, each side below 32768.
constexpr int packedSize(int width, int height) { return width * 32768 + height; }
constexpr int packedWidth(int size) { return size / 32768; }
constexpr int packedHeight(int size) { return size % 32768; }

// What a key (GLFW code) means on the screen shown (gui/screen_view.h); empty for a key without a meaning there.
// Repeats never reach this.
Intents intentsForKey(const Snapshot& shown, int key);

// The wheel, turned away from the player (+) or towards: up and down a list.
Intents intentsForWheel(const Snapshot& shown, double turned);

// A character that was typed: empty where no text is asked for.
Intents intentsForCharacter(const Snapshot& shown, unsigned codePoint);

// "space", "enter", "S", "F1": for the line of keys at the bottom.
std::string keyName(int key);

}  // namespace landfall
