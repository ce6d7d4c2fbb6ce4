"""Reading and writing files: pictures, profiles, references, layouts."""
