"""The press: steam, heat through the mould, flow, the disc, and what a shorter cycle would cost."""
