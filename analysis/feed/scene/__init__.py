"""A rendered feed: scene-linear light of a boathouse interview, through a model of a camera.

Nothing here is drawn in code values. The scene is reflectance and light; the camera turns
it into electrons, signal and codes; what is true of each frame is known
(:class:`analysis.feed.scene.truth.Truth`), so that readings can be compared with it.
"""
