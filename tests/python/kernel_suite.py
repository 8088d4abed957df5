"""The notebooks' own test suite for kernels (`jupyter_kernel_test`), with every sample set and nothing skipped."""

import sys
import unittest

import jupyter_kernel_test

from kernel_home import SAMPLES, installed

installed()


class KernelSuite(jupyter_kernel_test.KernelTests):
    kernel_name = "plugread"
    language_name = "plugread"
    file_extension = ".rhai"
    code_hello_world = 'print("hello, world")'
    code_stderr = 'print_warning("mind the fan belt")'
    completion_samples = [
        {"text": "plo", "matches": {"plot", "plot_against"}},
        {"text": 'quantity(3, "V").as_n', "matches": {"as_number"}},
        {"text": 'let run = 1; run.during("cran', "matches": {"cranking"}},
    ]
    complete_code_samples = ["1 + 2", 'print("x")', "fn f(x) {\n    x + 1\n}", "let y = `a\nb`;", "unheard_of"]
    incomplete_code_samples = ["fn f(x) {", "print(", "let y = `a", "1 +", "/* why"]
    invalid_code_samples = ["1)", "let = 3", "fn 3() {}", "}"]
    code_page_something = 'help("lasting")'
    code_generate_error = 'quantity(3, "V") + quantity(1, "degC")'
    code_execute_result = [
        {"code": "1 + 2 + 3", "result": "6"},
        {"code": 'quantity(120, "degF")', "result": "49 degC"},
        {"code": '[1, 2, "x"]', "result": '[1, 2, "x"]'},
        {"code": 'table([#{ a: 1, b: "x" }])', "mime": "text/html"},
        {"code": f'open("{SAMPLES}/first-start.csv").rpm', "mime": "image/svg+xml"},
        {"code": f'open("{SAMPLES}/first-start.csv").rpm', "mime": "image/png"},
    ]
    code_display_data = [
        {"code": 'show(table([#{ a: 1 }]))', "mime": "text/html"},
        {"code": f'show(plot(open("{SAMPLES}/first-start.csv").rpm))', "mime": "image/svg+xml"},
        {"code": f'show(plot(open("{SAMPLES}/first-start.csv").rpm))', "mime": "image/png"},
    ]
    code_history_pattern = "1 ? 2*"
    supported_history_operations = ("tail", "range", "search")
    code_inspect_sample = "plot"
    code_clear_output = "clear()"


class Welcome(jupyter_kernel_test.IopubWelcomeTests):
    kernel_name = "plugread"
    support_iopub_welcome = True


if __name__ == "__main__":
    outcome = unittest.main(exit=False, verbosity=1).result
    if outcome.skipped or not outcome.wasSuccessful():
        sys.exit(f"kernel suite: {len(outcome.skipped)} skipped: {outcome.skipped}")
    print(f"kernel suite: {outcome.testsRun} tests of jupyter_kernel_test passed, none skipped")
