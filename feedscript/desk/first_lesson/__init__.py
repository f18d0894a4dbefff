"""A first lesson from a coach's answers: exercises of the library, in words that can be changed."""

from feedscript.desk.first_lesson.answers import Answers, Choices, choices
from feedscript.desk.first_lesson.search import FirstLesson, lay_out

__all__ = ["Answers", "Choices", "FirstLesson", "choices", "lay_out"]
