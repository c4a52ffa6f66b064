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
#include <vector>

#include "gui/views.h"

namespace landfall {

namespace {

std::string lastGlfwError;


class OpenWindow {
public:
    OpenWindow() = default;
    OpenWindow(const OpenWindow&) = delete;
    OpenWindow& operator=(const OpenWindow&) = delete;
    ~OpenWindow() {
        if (backends) {
            ImGui_ImplOpenGL3_Shutdown();
            ImGui_ImplGlfw_Shutdown();
        }
        if (context) ImGui::DestroyContext(context);
        if (window) glfwDestroyWindow(window);
        if (started) glfwTerminate();
    }

    Result<void> open(const WindowConfig& config) {
        glfwSetErrorCallback([](int, const char* words) { lastGlfwError = words; });
        started = glfwInit() == GLFW_TRUE;
        if (!started) return noWindow();
        glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
        glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 2);
        glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
        glfwWindowHint(GLFW_OPENGL_FORWARD_COMPAT, GLFW_TRUE);
        glfwWindowHintString(GLFW_X11_CLASS_NAME, "landfall");
        window = glfwCreateWindow(config.width, config.height, config.title.c_str(), nullptr, nullptr);
        if (!window) return noWindow();
        glfwSetWindowSizeLimits(window, 1024, 600, GLFW_DONT_CARE, GLFW_DONT_CARE);
        glfwSetWindowUserPointer(window, this);
        glfwSetKeyCallback(window, [](GLFWwindow* of, int key, int, int action, int) {
            auto& self = *static_cast<OpenWindow*>(glfwGetWindowUserPointer(of));
            self.dirty = true;
            if (action == GLFW_PRESS && key != GLFW_KEY_UNKNOWN) self.pressed.push_back(key);
        });
        glfwSetCharCallback(window, [](GLFWwindow* of, unsigned codePoint) { static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->characters.push_back(codePoint); });
        glfwSetWindowRefreshCallback(window, [](GLFWwindow* of) { static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true; });
        glfwSetFramebufferSizeCallback(window, [](GLFWwindow* of, int, int) { static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true; });
        glfwSetMouseButtonCallback(window, [](GLFWwindow* of, int, int, int) { static_cast<OpenWindow*>(glfwGetWindowUserPointer(of))->dirty = true; });
        glfwMakeContextCurrent(window);
        glfwSwapInterval(0);  // the loop has its own limiter: vsync does nothing on some displays

        IMGUI_CHECKVERSION();
        context = ImGui::CreateContext();
        ImGui::GetIO().IniFilename = nullptr;
        ImGui::GetIO().LogFilename = nullptr;
        // The callbacks above stay in force: ImGui calls them after its own.
        backends = ImGui_ImplGlfw_InitForOpenGL(window, true) && ImGui_ImplOpenGL3_Init("#version 150");
        if (!backends) return Error{Error::Code::unsupported, "OpenGL 3 could not be started: install a newer graphics driver (Debian: libgl1-mesa-dri)"};
        return {};
    }

    // Fonts follow the window's size, the text size and the display's factor.
    Result<void> fitFonts(double textSize) {
        int width = 0, height = 0, pixelWidth = 0, pixelHeight = 0;
        glfwGetWindowSize(window, &width, &height);
        glfwGetFramebufferSize(window, &pixelWidth, &pixelHeight);
        float factor = 1.0f, factorY = 1.0f;
        glfwGetWindowContentScale(window, &factor, &factorY);
        // Where window coordinates are pixels already (X11) the factor enlarges; where the framebuffer is finer (macOS) it has done so.
        if (pixelWidth > width) factor = 1.0f;
        const Sizes wanted = sizesFor(static_cast<float>(width), static_cast<float>(height), textSize, factor);
        if (fonts.big && wanted.big == sizes.big && wanted.unit == sizes.unit && wanted.small == sizes.small) return {};
        auto loaded = loadFonts(wanted);
        if (!loaded) return loaded.error();
        fonts = *loaded;
        sizes = wanted;
        ImGui_ImplOpenGL3_DestroyFontsTexture();
        ImGui_ImplOpenGL3_CreateFontsTexture();
        return {};
    }

    struct Frame {
        Intents intents;
        Drawn drawn;
    };
    Frame draw(const Snapshot& snapshot) {
        ImGui_ImplOpenGL3_NewFrame();
        ImGui_ImplGlfw_NewFrame();
        ImGui::NewFrame();
        Canvas canvas(snapshot.dark, sizes, fonts);
        Frame frame{drawScreen(canvas, snapshot), {}};
        ImGui::Render();
        int width = 0, height = 0;
        glfwGetFramebufferSize(window, &width, &height);
        glViewport(0, 0, width, height);
        // Clearing is cheap where a large rectangle is not: software drawing shades each of its pixels.
        const auto clear = [](Colour colour) {
            glClearColor(static_cast<float>(colour.r) / 255.0f, static_cast<float>(colour.g) / 255.0f, static_cast<float>(colour.b) / 255.0f, 1.0f);
            glClear(GL_COLOR_BUFFER_BIT);
        };
        clear(canvas.colours.paper);
        const ImVec2 display = ImGui::GetIO().DisplaySize;
        const float finer = display.x > 0.0f ? static_cast<float>(width) / display.x : 1.0f;
        const auto pixels = [finer](float length) { return static_cast<GLint>(std::lround(finer * length)); };
        glEnable(GL_SCISSOR_TEST);
        for (const Box& panel : canvas.drawn().panels) {
            glScissor(pixels(panel.x), pixels(display.y - panel.bottom()), pixels(panel.width), pixels(panel.height));
            clear(canvas.colours.panel);
        }
        glDisable(GL_SCISSOR_TEST);
        ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
        frame.drawn = canvas.drawn();
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
        return Error{Error::Code::unwritable, file.string() + ": the screenshot cannot be written: is the folder there, is the disk full?"};
    }

    Intents takeKeys(const Snapshot& snapshot) {
        Intents intents;
        for (const int key : pressed) {
            const Intents meant = intentsForKey(snapshot, key);
            intents.insert(intents.end(), meant.begin(), meant.end());
        }
        pressed.clear();
        for (const unsigned codePoint : characters) {
            const Intents meant = intentsForCharacter(snapshot, codePoint);
            intents.insert(intents.end(), meant.begin(), meant.end());
        }
        characters.clear();
        return intents;
    }

    GLFWwindow* window = nullptr;
    bool dirty = true;

private:
    Error noWindow() const {
        return {Error::Code::unsupported, "No window could be opened (" + lastGlfwError + "): start Landfall on a desktop, or use landfall demo in a terminal"};
    }

    ImGuiContext* context = nullptr;
    std::vector<int> pressed;
    std::vector<unsigned> characters;
    Fonts fonts;
    Sizes sizes;
    bool started = false, backends = false;
};

}  // namespace

Result<void> runWindow(const WindowConfig& config, const std::function<std::shared_ptr<const Snapshot>()>& snapshot,
                       const std::function<void(const Intent&)>& act) {
    OpenWindow open;
    if (auto opened = open.open(config); !opened) return opened.error();

    constexpr double frame = 1.0 / 60.0;
    std::shared_ptr<const Snapshot> shown;
    double lastDrawn = -1.0;
    while (!glfwWindowShouldClose(open.window)) {
        std::shared_ptr<const Snapshot> now = snapshot();
        if (!now) break;
        const Intents keys = open.takeKeys(*now);
        for (const Intent& intent : keys) act(intent);
        if (!keys.empty()) now = snapshot();
        if (!now) break;

        if (now != shown || open.dirty || config.screenshot) {
            open.dirty = false;
            shown = now;
            if (auto fitted = open.fitFonts(now->textSize); !fitted) return fitted.error();
            const double begun = glfwGetTime();
            const auto [intents, drawn] = open.draw(*now);
            if (config.screenshot) return open.save(*config.screenshot);
            glfwSwapBuffers(open.window);
            if (config.drawn) glFinish();
            lastDrawn = glfwGetTime();
            if (config.drawn) config.drawn(drawn, Seconds(lastDrawn - begun));
            for (const Intent& intent : intents) act(intent);
            if (!intents.empty()) open.dirty = true;
        }
        // A key or the mouse ends the wait at once; a new snapshot is looked for every 60th of a second.
        const double since = glfwGetTime() - lastDrawn;
        glfwWaitEventsTimeout(since < frame ? std::max(0.001, frame - since) : frame);
    }
    return {};
}

}  // namespace landfall
