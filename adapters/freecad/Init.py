# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
# FreeCAD runs this at its start, also without a window. Nothing is to be done: the folder is on the module path.
