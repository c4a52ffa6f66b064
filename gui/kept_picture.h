// The window's picture as drawn so far, kept on the graphics card between frames: only what changed is drawn into it,
// then it is shown whole. Sizes in pixels of the display. Window thread, with its OpenGL context current.
#pragma once

#include "src/system/result.h"

namespace landfall {

class KeptPicture {
public:
    KeptPicture() = default;
    KeptPicture(const KeptPicture&) = delete;
    KeptPicture& operator=(const KeptPicture&) = delete;
    ~KeptPicture();

    // Drawing goes into the picture from here on. True where it is new or has another size, so that everything is to be
    // drawn.
    Result<bool> begin(int width, int height);
    // Copies it to the window's back buffer, where drawing goes from here on.
    void show();

private:
    struct Calls;
    static const Calls& calls();
    unsigned frame = 0, colours = 0;
    int wide = 0, high = 0;
};

}  // namespace landfall
