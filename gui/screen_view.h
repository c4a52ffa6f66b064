// A screen as the window meets it: what it is called, how it is drawn, and what its keys do. All screens stand in one
// table. Window thread.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "gui/canvas.h"
#include "gui/intent.h"
#include "gui/snapshot.h"

namespace landfall {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
namespace key {
constexpr int space = 32, escape = 256, enter = 257, backspace = 259, right = 262, left = 263, down = 264, up = 265,
              fullScreen = 300;  // F11
}

// What one key does, or two that belong together.
struct Key {
    struct Press {
        int code = 0;
        Intent::Kind kind = Intent::Kind::choose;
    };
    std::string shown;  // "↑ ↓", "enter"
    std::string does;   // for the line at the bottom; empty: it is not told of
    std::vector<Press> presses;
};

struct Keys {
    // What all the others do: digits and escape open screens; or the next key, whatever it is, is learned; or
    // characters are typed.
    enum class Others { open, learned, typed };
    std::vector<Key> all;  // the first that has a code wins
    Others others = Others::open;
};

// Those that mean much the same on every list. Space is enter there.
Key upAndDown(std::string does);
Key leftAndRight(std::string does);
Key enter(std::string does);
Key backspace(std::string does);
Key press(int code, Intent::Kind kind, std::string does = {});

struct ScreenView {
    Screen screen = Screen::start;
    const char* name = "";  // "drills", in the line of screens
    std::string (*title)(const Snapshot&) = nullptr;
    Intents (*draw)(Canvas&, const Snapshot&) = nullptr;
    Keys (*keys)(const Snapshot&) = nullptr;
};

// In the order of the digits that open them, from 1.
std::span<const ScreenView* const> screenViews();
const ScreenView& viewOf(Screen screen);

}  // namespace landfall
