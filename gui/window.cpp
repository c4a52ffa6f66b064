#include "gui/window.h"

#define GLFW_INCLUDE_GLEXT
#include <GLFW/glfw3.h>
#include <imgui.h>
#include <imgui_impl_glfw.h>
#include <imgui_impl_opengl3.h>
#include <stb_image_write.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

#include "gui/changed_area.h"
#include "gui/kept_picture.h"
#include "gui/views.h"

namespace landfall {

namespace {

class OpenWindow {
public:
    OpenWindow() = default;
    OpenWindow(const OpenWindow&) = delete;
    OpenWindow& operator=(const OpenWindow&) = delete;
    ~OpenWindow() {
        kept.reset();
        if (backends) {
            ImGui_ImplOpenGL3_Shutdown();
            ImGui_ImplGlfw_Shutdown();
        }
        if (context) ImGui::DestroyContext(context);
        if (window) glfwDestroyWindow(window);
        if (started) glfwTerminate();
    }

    Result<void> open(const WindowConfig& config) {
        glfwSetErrorCallback([](int, const char*) {});  // its words are for programmers
        started = glfwInit() == GLFW_TRUE;
        if (!started) return noWindow();
        glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
        glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 2);
        glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
        glfwWindowHint(GLFW_OPENGL_FORWARD_COMPAT, GLFW_TRUE);
        glfwWindowHintString(GLFW_X11_CLASS_NAME, "landfall");
        window = glfwCreateWindow(config.width, config.height, config.title.c_str(), nullptr, nullptr);
        if (!window) return noWindow();
        glfwSetWindowAttrib(window, GLFW_AUTO_ICONIFY, GLFW_FALSE);  // who looks at another display goes on playing
        if (!config.screenshot) enlarge(config);
        glfwSetWindowUserPointer(window, this);
        glfwSetKeyCallback(window, [](GLFWwindow* of, int key, int, int action, int) {
            auto& self = *static_cast<OpenWindow*>(glfwGetWindowUserPointer(of));
            self.dirty = true;
            if (action == GLFW_PRESS && key != GLFW_KEY_UNKNOWN) self.typed.push_back({.key = key});
        });
        glfwSetCharCallback(window, [](GLFWwindow* of, unsigned codePoint) {
            static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->typed.push_back({.codePoint = codePoint});
        });
        glfwSetWindowRefreshCallback(
            window, [](GLFWwindow* of) { static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true; });
        glfwSetFramebufferSizeCallback(window, [](GLFWwindow* of, int, int) {
            static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true;
        });
        glfwSetScrollCallback(window, [](GLFWwindow* of, double, double turned) {
            auto& self = *static_cast<OpenWindow*>(glfwGetWindowUserPointer(of));
            self.dirty = true;
            self.typed.push_back({.key = 0, .codePoint = 0, .turned = turned});
        });
        glfwSetDropCallback(window, [](GLFWwindow* of, int count, const char** paths) {
            auto& self = *static_cast<OpenWindow*>(glfwGetWindowUserPointer(of));
            self.dirty = true;
            self.dropped.insert(self.dropped.end(), paths, paths + count);
        });
        glfwSetMouseButtonCallback(window, [](GLFWwindow* of, int, int, int) {
            static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true;
        });
        glfwMakeContextCurrent(window);
        glfwSwapInterval(0);  // the loop has its own limiter: vsync does nothing on some displays

        IMGUI_CHECKVERSION();
        context = ImGui::CreateContext();
        ImGui::GetIO().IniFilename = nullptr;
        ImGui::GetIO().LogFilename = nullptr;
        ImGui::GetIO().ConfigFlags |= ImGuiConfigFlags_NoMouseCursorChange;  // showPointer() does
        // The callbacks above stay in force: ImGui calls them after its own.
        backends = ImGui_ImplGlfw_InitForOpenGL(window, true) && ImGui_ImplOpenGL3_Init("#version 150");
        kept = std::make_unique<KeptPicture>();
        if (!backends)
            return Error{Error::Code::unsupported,
                         "OpenGL 3 could not be started: install a newer graphics driver (Debian: libgl1-mesa-dri)"};
        return {};
    }

    // Fonts follow the window's size, the text size and the display's factor.
    Result<void> fitFonts(double textSize) {
        int width = 0, height = 0, pixelWidth = 0, pixelHeight = 0;
        glfwGetWindowSize(window, &width, &height);
        glfwGetFramebufferSize(window, &pixelWidth, &pixelHeight);
        float factor = 1.0f, factorY = 1.0f;
        glfwGetWindowContentScale(window, &factor, &factorY);
        // Where window coordinates are pixels already (X11) the factor enlarges; where the framebuffer is finer (macOS)
        // it has done so.
        if (pixelWidth > width) factor = 1.0f;
        const Sizes wanted = sizesFor(static_cast<float>(width), static_cast<float>(height), textSize, factor);
        if (fonts.big && wanted.big == sizes.big && wanted.unit == sizes.unit && wanted.small == sizes.small) return {};
        auto loaded = loadFonts(wanted);
        if (!loaded) return loaded.error();
        fonts = *loaded;
        sizes = wanted;
        ImGui_ImplOpenGL3_DestroyFontsTexture();
        ImGui_ImplOpenGL3_CreateFontsTexture();
        fontsChanged = true;
        return {};
    }

    struct Frame {
        Intents intents;
        Drawn drawn;
        bool changed = true;  // against the frame before
    };
    // Draws into the kept picture where it differs from what is to be seen. Shows it where it changed, or `always`.
    Result<Frame> draw(const Snapshot& snapshot, bool always) {
        ImGui_ImplOpenGL3_NewFrame();
        ImGui_ImplGlfw_NewFrame();
        ImGui::NewFrame();
        Canvas canvas(snapshot.dark, sizes, fonts);
        Frame frame{drawScreen(canvas, snapshot), canvas.drawn()};
        ImGui::Render();
        ImDrawData& data = *ImGui::GetDrawData();
        Triangles triangles;
        for (int i = 0; i < data.CmdListsCount; ++i) {
            const ImDrawList& list = *data.CmdLists[i];
            triangles.corners.insert(triangles.corners.end(), list.VtxBuffer.begin(), list.VtxBuffer.end());
            triangles.indices.insert(triangles.indices.end(), list.IdxBuffer.begin(), list.IdxBuffer.end());
        }
        // Indices count within a list; there is one, the background, unless something unforeseen is drawn.
        const bool oneList = data.CmdListsCount == 1;

        int width = 0, height = 0;
        glfwGetFramebufferSize(window, &width, &height);
        const auto fresh = kept->begin(width, height);
        if (!fresh) return fresh.error();
        const bool whole =
            !oneList || *fresh || fontsChanged || snapshot.dark != shownDark || frame.drawn.panels != shownPanels;
        const std::vector<Box> areas = whole ? std::vector<Box>{{0.0f, 0.0f, data.DisplaySize.x, data.DisplaySize.y}}
                                             : changedAreas(shownTriangles, triangles);
        glViewport(0, 0, width, height);
        for (const Box& area : areas) paint(canvas, data, area);
        frame.changed = always || !areas.empty();
        if (frame.changed) kept->show();
        shownTriangles = std::move(triangles);
        shownPanels = frame.drawn.panels;
        shownDark = snapshot.dark;
        fontsChanged = false;
        return frame;
    }

    Result<void> save(const std::filesystem::path& file) {
        int width = 0, height = 0;
        glfwGetFramebufferSize(window, &width, &height);
        std::vector<unsigned char> pixels(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3);
        glPixelStorei(GL_PACK_ALIGNMENT, 1);
        glReadPixels(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE, pixels.data());
        stbi_flip_vertically_on_write(1);
        if (stbi_write_png(file.c_str(), width, height, 3, pixels.data(), width * 3)) return {};
        return Error{Error::Code::unwritable,
                     file.string() + ": the screenshot cannot be written: is the folder there, is the disk full?"};
    }

    // It would stand in the words of who plays: shown while it is moved, and three seconds more.
    void showPointer() {
        double x = 0.0, y = 0.0;
        glfwGetCursorPos(window, &x, &y);
        const double now = glfwGetTime();
        if (pointer.known && (x != pointer.x || y != pointer.y)) pointer.movedAt = now;
        const bool shows = now - pointer.movedAt < 3.0;
        if (!pointer.known || shows != pointer.shows)
            glfwSetInputMode(window, GLFW_CURSOR, shows ? GLFW_CURSOR_NORMAL : GLFW_CURSOR_HIDDEN);
        pointer = {x, y, pointer.movedAt, shows, true};
    }

    // Fills the display that it is on, or goes back to where it stood.
    void fill(bool wanted) {
        if (wanted == full) return;
        full = wanted;
        dirty = true;
        if (!wanted) {
            glfwSetWindowMonitor(window, nullptr, stood.x, stood.y, stood.width, stood.height, GLFW_DONT_CARE);
            return;
        }
        glfwGetWindowPos(window, &stood.x, &stood.y);
        glfwGetWindowSize(window, &stood.width, &stood.height);
        GLFWmonitor* monitor = monitorUnder(stood.x + stood.width / 2, stood.y + stood.height / 2);
        if (const GLFWvidmode* mode = monitor ? glfwGetVideoMode(monitor) : nullptr)
            glfwSetWindowMonitor(window, monitor, 0, 0, mode->width, mode->height, mode->refreshRate);
    }

    // Its size in plain pixels, once it has stood for a moment since it was changed by hand.
    std::optional<int> resized(bool closing) {
        int width = 0, height = 0;
        glfwGetWindowSize(window, &width, &height);
        const int now = plainSize(width, height);
        if (full || now == toldSize) return {};
        if (now != seenSize) seenAt = glfwGetTime();
        seenSize = now;
        if (glfwGetTime() - seenAt < 0.5 && !closing) return {};
        toldSize = now;
        return now;
    }

    Intents takeKeys(const Snapshot& snapshot) {
        Intents intents;
        for (const Typed& one : typed) {
            const Intents meant = one.turned != 0.0 ? intentsForWheel(snapshot, one.turned)
                                  : one.key != 0    ? intentsForKey(snapshot, one.key)
                                                    : intentsForCharacter(snapshot, one.codePoint);
            intents.insert(intents.end(), meant.begin(), meant.end());
        }
        typed.clear();
        for (const std::string& file : std::exchange(dropped, {}))
            intents.push_back({Intent::Kind::dropped, snapshot.screen, 0, file});
        return intents;
    }

    GLFWwindow* window = nullptr;
    bool dirty = true;

private:
    int plainSize(int width, int height) const {
        const auto plain = [this](int length) {
            return static_cast<int>(std::lround(static_cast<float>(length) / enlargedBy));
        };
        return packedSize(plain(width), plain(height));
    }

    // On a display with finer pixels the window takes as many more of them, as far as there is room; where its
    // coordinates are not pixels the system has done so.
    void enlarge(const WindowConfig& config) {
        int width = 0, height = 0, pixelWidth = 0, pixelHeight = 0;
        glfwGetWindowSize(window, &width, &height);
        glfwGetFramebufferSize(window, &pixelWidth, &pixelHeight);
        float factor = 1.0f, factorY = 1.0f;
        glfwGetWindowContentScale(window, &factor, &factorY);
        // displays state their size roughly
        enlargedBy = factor = pixelWidth > width ? 1.0f : std::max(1.0f, std::round(4.0f * factor) / 4.0f);
        int left = 0, top = 0, roomWidth = 0, roomHeight = 0;
        if (GLFWmonitor* monitor = glfwGetPrimaryMonitor())
            glfwGetMonitorWorkarea(monitor, &left, &top, &roomWidth, &roomHeight);
        const auto enlarged = [factor](int length, int room) {
            const int wanted = static_cast<int>(std::lround(factor * static_cast<float>(length)));
            return room > 0 ? std::max(length, std::min(wanted, room)) : wanted;
        };
        if (factor > 1.0f)
            glfwSetWindowSize(window, enlarged(config.width, roomWidth), enlarged(config.height, roomHeight));
        toldSize = factor > 1.0f ? plainSize(enlarged(config.width, roomWidth), enlarged(config.height, roomHeight))
                                 : packedSize(config.width, config.height);
        glfwSetWindowSizeLimits(window, enlarged(1024, roomWidth), enlarged(600, roomHeight), GLFW_DONT_CARE,
                                GLFW_DONT_CARE);
    }

    static GLFWmonitor* monitorUnder(int x, int y) {
        int count = 0;
        GLFWmonitor** all = glfwGetMonitors(&count);
        for (int i = 0; i < count; ++i) {
            int left = 0, top = 0;
            glfwGetMonitorPos(all[i], &left, &top);
            const GLFWvidmode* mode = glfwGetVideoMode(all[i]);
            if (mode && x >= left && y >= top && x < left + mode->width && y < top + mode->height) return all[i];
        }
        return glfwGetPrimaryMonitor();
    }

    // Draws one part of the frame, grown by a pixel for its smoothed edges.
    void paint(const Canvas& canvas, ImDrawData& data, const Box& area) {
        const float finer = data.FramebufferScale.x;
        const float left = std::max(0.0f, std::floor(area.x) - 1.0f), top = std::max(0.0f, std::floor(area.y) - 1.0f);
        const float right = std::min(data.DisplaySize.x, std::ceil(area.right()) + 1.0f),
                    bottom = std::min(data.DisplaySize.y, std::ceil(area.bottom()) + 1.0f);
        if (right <= left || bottom <= top) return;

        // Clearing is cheap where a large rectangle is not: software drawing shades each of its pixels.
        const auto clear = [&](const Box& box, Colour colour) {
            const auto pixels = [finer](float length) { return static_cast<GLint>(std::lround(finer * length)); };
            const GLint x1 = pixels(std::max(box.x, left)), x2 = pixels(std::min(box.right(), right));
            const GLint y1 = pixels(data.DisplaySize.y - std::min(box.bottom(), bottom)),
                        y2 = pixels(data.DisplaySize.y - std::max(box.y, top));
            if (x2 <= x1 || y2 <= y1) return;
            glScissor(x1, y1, x2 - x1, y2 - y1);
            glClearColor(static_cast<float>(colour.r) / 255.0f, static_cast<float>(colour.g) / 255.0f,
                         static_cast<float>(colour.b) / 255.0f, 1.0f);
            glClear(GL_COLOR_BUFFER_BIT);
        };
        glEnable(GL_SCISSOR_TEST);
        clear({left, top, right - left, bottom - top}, canvas.colours.paper);
        for (const Box& panel : canvas.drawn().panels) clear(panel, canvas.colours.panel);
        glDisable(GL_SCISSOR_TEST);
        for (int i = 0; i < data.CmdListsCount; ++i)
            for (ImDrawCmd& command : data.CmdLists[i]->CmdBuffer) command.ClipRect = {left, top, right, bottom};
        ImGui_ImplOpenGL3_RenderDrawData(&data);
    }

    Error noWindow() const {
        return {Error::Code::unsupported,
                "No window could be opened: start Landfall on a desktop, or use landfall practise in a terminal"};
    }

    ImGuiContext* context = nullptr;
    struct Typed {
        int key = 0;  // 0: a character
        unsigned codePoint = 0;
        double turned = 0.0;  // the wheel
    };
    std::vector<Typed> typed;          // in the order it came
    std::vector<std::string> dropped;  // files
    Fonts fonts;
    Sizes sizes;
    bool started = false, backends = false;
    bool full = false;
    struct {
        int x = 0, y = 0, width = 0, height = 0;
    } stood;  // before it filled the display
    struct {
        double x = 0.0, y = 0.0, movedAt = -10.0;
        bool shows = false, known = false;
    } pointer;
    float enlargedBy = 1.0f;  // what a plain pixel is here
    int toldSize = 0, seenSize = 0;
    double seenAt = 0.0;

    // What the kept picture shows.
    std::unique_ptr<KeptPicture> kept;
    Triangles shownTriangles;
    std::vector<Box> shownPanels;
    bool shownDark = true, fontsChanged = false;
};

}  // namespace

// Ends the window's waiting whenever it is rung. The display's connection may block; only this thread waits for it
// then, and nobody who rings.
class Bell {
public:
    explicit Bell(std::shared_ptr<Waker> given) : waker(std::move(given)) {
        if (!waker) return;
        listener = std::thread([this] {
            unsigned heard = waker->count.load();
            while (!ending) {
                waker->count.wait(heard);
                heard = waker->count.load();
                if (!ending) glfwPostEmptyEvent();
            }
        });
    }
    ~Bell() {
        if (!waker) return;
        ending = true;
        waker->wake();
        listener.join();
    }
    Bell(const Bell&) = delete;
    Bell& operator=(const Bell&) = delete;

private:
    std::shared_ptr<Waker> waker;
    std::atomic<bool> ending{false};
    std::thread listener;
};

Result<void> runWindow(const WindowConfig& config, const std::function<std::shared_ptr<const Snapshot>()>& snapshot,
                       const std::function<void(const Intent&)>& act) {
    OpenWindow open;
    if (auto opened = open.open(config); !opened) return opened.error();

    const Bell bell(config.waker);
    constexpr double frame = 1.0 / 60.0;
    const double look = config.waker ? 0.1 : frame;  // in case a ring is lost
    std::shared_ptr<const Snapshot> shown;
    double lastDrawn = -1.0;
    while (!glfwWindowShouldClose(open.window)) {
        std::shared_ptr<const Snapshot> now = snapshot();
        if (!now) break;
        const Intents keys = open.takeKeys(*now);
        for (const Intent& intent : keys) act(intent);
        if (!keys.empty()) now = snapshot();
        if (!now) break;
        open.fill(now->window.full && !config.screenshot);
        open.showPointer();
        if (const auto size = config.screenshot ? std::nullopt : open.resized(false))
            act({Intent::Kind::resized, now->screen, *size});

        const double since = glfwGetTime() - lastDrawn;
        const bool due = now != shown || open.dirty || config.screenshot;
        if (due && (since >= frame || config.screenshot)) {
            const bool always = std::exchange(open.dirty, false);
            shown = now;
            if (auto fitted = open.fitFonts(now->textSize); !fitted) return fitted.error();
            const double begun = glfwGetTime();
            const auto painted = open.draw(*now, always);
            if (!painted) return painted.error();
            const auto& [intents, drawn, changed] = *painted;
            if (config.screenshot) return open.save(*config.screenshot);
            if (changed) glfwSwapBuffers(open.window);
            if (config.drawn) glFinish();
            lastDrawn = glfwGetTime();
            if (config.drawn) config.drawn(drawn, Seconds(lastDrawn - begun));
            for (const Intent& intent : intents) act(intent);
            if (!intents.empty()) open.dirty = true;
            continue;
        }
        // A key, the mouse or the bell ends the wait; what is due waits for its 60th of a second.
        glfwWaitEventsTimeout(due ? std::max(0.0005, frame - since) : look);
    }
    if (const auto size = open.resized(true)) act({Intent::Kind::resized, {}, *size});
    return {};
}

}  // namespace landfall
