"""
A window of 390 x 844 px around WebKitGTK that keeps its store and its cookies in a folder and obeys a WebDriver.

Run by the driver, with Debian's own Python (gir1.2-webkit2-4.1): webkit_window.py FOLDER SCRIPT. SCRIPT runs before every page's own.
"""

import sys
from pathlib import Path

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")

from gi.repository import Gtk, WebKit2  # noqa: E402  (the versions are chosen first)

WIDTH_PX, HEIGHT_PX = 390, 844

folder, script = Path(sys.argv[1]), Path(sys.argv[2])
store = WebKit2.WebsiteDataManager(base_data_directory=str(folder / "data"), base_cache_directory=str(folder / "cache"))
context = WebKit2.WebContext.new_with_website_data_manager(store)
context.get_cookie_manager().set_persistent_storage(str(folder / "cookies.sqlite"), WebKit2.CookiePersistentStorage.SQLITE)
context.set_automation_allowed(True)

before = WebKit2.UserContentManager()
before.add_script(
    WebKit2.UserScript.new(
        script.read_text(), WebKit2.UserContentInjectedFrames.TOP_FRAME, WebKit2.UserScriptInjectionTime.START, None, None
    )
)
view = WebKit2.WebView(web_context=context, user_content_manager=before, is_controlled_by_automation=True)

window = Gtk.Window()
window.set_default_size(WIDTH_PX, HEIGHT_PX)
window.add(view)
window.connect("destroy", Gtk.main_quit)
window.show_all()


def begin(_context: WebKit2.WebContext, session: WebKit2.AutomationSession) -> None:
    """The driver came: say who we are, and give it the one page that there is."""
    about = WebKit2.ApplicationInfo()
    about.set_name("WebKitGTK")
    about.set_version(WebKit2.get_major_version(), WebKit2.get_minor_version(), WebKit2.get_micro_version())
    session.set_application_info(about)
    session.connect("create-web-view", lambda _session: view)


context.connect("automation-started", begin)
Gtk.main()
