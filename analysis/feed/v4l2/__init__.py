"""Our own small reader of Linux capture devices, over the kernel's documented video interface (V4L2).

Nothing is converted on the way: the codes that reach the measurement are the ones the device sent.
"""
