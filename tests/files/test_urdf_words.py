"""What an arm's file says in other words is not passed over where it was meant to be read."""

import pytest

from reach.files.problem import InputError
from reach.files.urdf import load_arm

SHAPE = '<collision><geometry><box size="1 1 1"/></geometry></collision>'
TEXT = """<robot name="a">
<link name="b"/>
<link name="t">{link}</link>
<joint name="j" type="continuous"><parent link="b"/><child link="t"/>{joint}</joint>{more}
</robot>"""


@pytest.mark.parametrize(
    ("part", "text", "words"),
    [
        ("link", SHAPE.replace("collision", "colision"), "3: t: unknown element <colision>; did"),
        ("link", SHAPE.replace("collision", "Collision"), "did you mean <collision>?"),
        ("joint", '<orign xyz="1 2 3"/>', "4: j: unknown element <orign>; did you mean <origin>?"),
        ("joint", '<origin xzy="1 2 3"/>', "<origin>: unknown attribute 'xzy'; did you mean 'xyz'"),
        ("joint", '<origin xyz="1 2 3" quat_xyzw="0 0 1 0"/>', "unknown attribute 'quat_xyzw'"),
        ("joint", '<origin xyz="1 2 3"/><origin xyz="4 5 6"/>', "has a second <origin>"),
        ("joint", '<axis xyz="0 0 1"/><axis xyz="1 0 0"/>', "has a second <axis>"),
        ("link", SHAPE.replace("</geometry>", "</geometry><geometry/>"), "has a second <geometry>"),
        (
            "more",
            '<Joint name="k" type="fixed"/>',
            "unknown element <Joint>; did you mean <joint>?",
        ),
        ("joint", '<origin xyz="1_0 2 3"/>', "xyz needs 3 numbers, found '1_0 2 3'"),
        (
            "link",
            SHAPE.replace('box size="1 1 1"', 'mesh filename="p.stl" scale="0 1 1"'),
            "scale needs numbers other than zero",
        ),
    ],
)
def test_what_an_arm_says_in_near_words_or_twice_is_told(tmp_path, part, text, words):
    """Such an element or key was passed over: a link without a shape, a joint at its parent."""
    path = tmp_path / "arm.urdf"
    path.write_text(TEXT.format(**({"link": "", "joint": "", "more": ""} | {part: text})))
    with pytest.raises(InputError) as caught:
        load_arm(path)
    assert words in str(caught.value)


def test_what_an_arm_says_to_others_is_passed_over(tmp_path):
    path = tmp_path / "arm.urdf"
    link = SHAPE + "<visual/><inertial/><contact/>"
    joint = '<dynamics damping="1"/><limit velocity="1" effort="1" jerk="2"/>'
    more = '<gazebo reference="t"/><transmission name="x"/><material name="m"/>'
    path.write_text(TEXT.format(link=link, joint=joint, more=more))
    assert [len(one.shapes) for one in load_arm(path).links] == [0, 1]


def test_shapes_nested_without_end_end_no_program(tmp_path):
    path = tmp_path / "arm.urdf"
    deep = "<geometry>" * 5000 + "</geometry>" * 5000
    path.write_text(TEXT.format(link=f"<collision>{deep}</collision>", joint="", more=""))
    with pytest.raises(InputError, match="unknown shape 'geometry'"):
        load_arm(path)
