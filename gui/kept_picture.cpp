#include "gui/kept_picture.h"

#define GLFW_INCLUDE_GLEXT
#include <GLFW/glfw3.h>

namespace landfall {

// What OpenGL 3.0 has and an OpenGL library need not offer for linking.
struct KeptPicture::Calls {
    PFNGLGENFRAMEBUFFERSPROC makeFrames = load<PFNGLGENFRAMEBUFFERSPROC>("glGenFramebuffers");
    PFNGLDELETEFRAMEBUFFERSPROC deleteFrames = load<PFNGLDELETEFRAMEBUFFERSPROC>("glDeleteFramebuffers");
    PFNGLBINDFRAMEBUFFERPROC bindFrame = load<PFNGLBINDFRAMEBUFFERPROC>("glBindFramebuffer");
    PFNGLCHECKFRAMEBUFFERSTATUSPROC status = load<PFNGLCHECKFRAMEBUFFERSTATUSPROC>("glCheckFramebufferStatus");
    PFNGLBLITFRAMEBUFFERPROC copy = load<PFNGLBLITFRAMEBUFFERPROC>("glBlitFramebuffer");
    PFNGLGENRENDERBUFFERSPROC makeBuffers = load<PFNGLGENRENDERBUFFERSPROC>("glGenRenderbuffers");
    PFNGLDELETERENDERBUFFERSPROC deleteBuffers = load<PFNGLDELETERENDERBUFFERSPROC>("glDeleteRenderbuffers");
    PFNGLBINDRENDERBUFFERPROC bindBuffer = load<PFNGLBINDRENDERBUFFERPROC>("glBindRenderbuffer");
    PFNGLRENDERBUFFERSTORAGEPROC storage = load<PFNGLRENDERBUFFERSTORAGEPROC>("glRenderbufferStorage");
    PFNGLFRAMEBUFFERRENDERBUFFERPROC attach = load<PFNGLFRAMEBUFFERRENDERBUFFERPROC>("glFramebufferRenderbuffer");

    bool complete() const {
        return makeFrames && deleteFrames && bindFrame && status && copy && makeBuffers && deleteBuffers && bindBuffer
               && storage && attach;
    }

private:
    template <typename Call>
    static Call load(const char* name) {
        return reinterpret_cast<Call>(glfwGetProcAddress(name));
    }
};

const KeptPicture::Calls& KeptPicture::calls() {
    static const Calls loaded;
    return loaded;
}

KeptPicture::~KeptPicture() {
    if (frame) calls().deleteFrames(1, &frame);
    if (colours) calls().deleteBuffers(1, &colours);
}

Result<bool> KeptPicture::begin(int width, int height) {
    const Calls& gl = calls();
    const Error unsupported{
        Error::Code::unsupported,
        "OpenGL 3 lacks framebuffers here: install a newer graphics driver (Debian: libgl1-mesa-dri)"};
    if (!gl.complete()) return unsupported;
    if (!frame) {
        gl.makeFrames(1, &frame);
        gl.makeBuffers(1, &colours);
    }
    gl.bindFrame(GL_FRAMEBUFFER, frame);
    if (width == wide && height == high) return false;
    gl.bindBuffer(GL_RENDERBUFFER, colours);
    gl.storage(GL_RENDERBUFFER, GL_RGB8, width, height);
    gl.attach(GL_FRAMEBUFFER, GL_COLOR_ATTACHMENT0, GL_RENDERBUFFER, colours);
    if (gl.status(GL_FRAMEBUFFER) != GL_FRAMEBUFFER_COMPLETE) return unsupported;
    wide = width;
    high = height;
    return true;
}

void KeptPicture::show() {
    const Calls& gl = calls();
    gl.bindFrame(GL_DRAW_FRAMEBUFFER, 0);
    gl.copy(0, 0, wide, high, 0, 0, wide, high, GL_COLOR_BUFFER_BIT, GL_NEAREST);
    gl.bindFrame(GL_FRAMEBUFFER, 0);
}

}  // namespace landfall
