// Drops a file onto a window as another program would: drop_file WINDOW FILE, WINDOW as xdotool prints it. The source's
// side of "Drag-and-Drop Protocol for the X Window System", version 5 (freedesktop.org, XDND). Status 0: it was taken.
#include <X11/Xatom.h>
#include <X11/Xlib.h>

#include <cctype>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <thread>

namespace {

// RFC 3986, section 2: what is not unreserved goes as %XX.
std::string uriOf(const std::string& path) {
    constexpr const char* digits = "0123456789ABCDEF";
    std::string uri = "file://";
    for (const char c : path) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte < 128 && std::isalnum(byte) != 0) || std::string("-._~/").find(c) != std::string::npos) uri += c;
        else uri += {'%', digits[byte >> 4], digits[byte & 15]};
    }
    return uri;
}

class Source {
public:
    Source(Display* on, Window onto, const std::string& file) : display(on), target(onto), list(uriOf(file) + "\r\n") {
        own = XCreateSimpleWindow(display, DefaultRootWindow(display), 0, 0, 1, 1, 0, 0, 0);
        XSetSelectionOwner(display, atom("XdndSelection"), own, CurrentTime);
    }

    bool drop() {
        XWindowAttributes shape{};
        Window child = 0;
        int x = 0, y = 0;
        XGetWindowAttributes(display, target, &shape);
        XTranslateCoordinates(display, target, DefaultRootWindow(display), shape.width / 2, shape.height / 2, &x, &y,
                              &child);
        send("XdndEnter", 5L << 24, static_cast<long>(atom("text/uri-list")), 0, 0);
        send("XdndPosition", 0, static_cast<long>(x) << 16 | y, CurrentTime, static_cast<long>(atom("XdndActionCopy")));
        if (!answered("XdndStatus")) return false;
        send("XdndDrop", 0, CurrentTime, 0, 0);
        return answered("XdndFinished");
    }

private:
    Atom atom(const char* name) { return XInternAtom(display, name, False); }

    void send(const char* type, long first, long second, long third, long fourth) {
        XEvent event{};
        event.xclient.type = ClientMessage;
        event.xclient.window = target;
        event.xclient.message_type = atom(type);
        event.xclient.format = 32;
        event.xclient.data.l[0] = static_cast<long>(own);
        event.xclient.data.l[1] = first;
        event.xclient.data.l[2] = second;
        event.xclient.data.l[3] = third;
        event.xclient.data.l[4] = fourth;
        XSendEvent(display, target, False, NoEventMask, &event);
        XFlush(display);
    }

    // What is dropped is asked for as a selection.
    void give(const XSelectionRequestEvent& asked) {
        XChangeProperty(display, asked.requestor, asked.property, asked.target, 8, PropModeReplace,
                        reinterpret_cast<const unsigned char*>(list.data()), static_cast<int>(list.size()));
        XEvent event{};
        event.xselection.type = SelectionNotify;
        event.xselection.requestor = asked.requestor;
        event.xselection.selection = asked.selection;
        event.xselection.target = asked.target;
        event.xselection.property = asked.property;
        event.xselection.time = asked.time;
        XSendEvent(display, asked.requestor, False, NoEventMask, &event);
        XFlush(display);
    }

    // Within ten seconds, and with a yes: bit 0 of the answer, for which GLFW 3.3 sends how many bytes it took.
    bool answered(const char* type) {
        const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(10);
        while (std::chrono::steady_clock::now() < end) {
            if (XPending(display) == 0) {
                std::this_thread::sleep_for(std::chrono::milliseconds(5));
                continue;
            }
            XEvent event{};
            XNextEvent(display, &event);
            if (event.type == SelectionRequest) give(event.xselectionrequest);
            if (event.type == ClientMessage && event.xclient.message_type == atom(type))
                return event.xclient.data.l[1] != 0;
        }
        return false;
    }

    Display* display;
    Window target, own = 0;
    std::string list;
};

}  // namespace

int main(int argc, char** argv) {
    Display* display = argc == 3 ? XOpenDisplay(nullptr) : nullptr;
    if (display == nullptr) return 2;
    Source source(display, std::strtoul(argv[1], nullptr, 10), std::filesystem::absolute(argv[2]).string());
    const bool taken = source.drop();
    if (!taken) std::fprintf(stderr, "the window does not take it\n");
    XCloseDisplay(display);
    return taken ? 0 : 1;
}
