using System.Security.Cryptography;
using Traceability.Service.Security;
using Xunit;

namespace Traceability.Service.Tests.Security;

public sealed class KeySecretTests
{
    [Fact]
    public void A_key_is_its_prefix_and_32_random_bytes_in_base64url()
    {
        using var random = new Counting();

        var text = KeySecret.Make(random);

        // 0x00 to 0x1F by RFC 4648, section 5, without padding; worked out with coreutils' basenc --base64url.
        Assert.Equal("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8", text);
    }

    [Fact]
    public void A_key_is_stored_as_the_sha_256_of_its_text()
    {
        const string text = "trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8";

        Assert.True(KeySecret.TryHash(text, out var hash));

        // Worked out with coreutils' sha256sum.
        Assert.Equal("7ee0ca1dcae1066c13b785e9b7db3f559ac50d721e043791fd20771a5e2539de", Convert.ToHexStringLower(hash));
    }

    [Theory]
    [InlineData("")]
    [InlineData("trc_")]
    [InlineData("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh")]
    [InlineData("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8A")]
    [InlineData("xyz_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8")]
    [InlineData("TRC_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8")]
    [InlineData("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh+")]
    [InlineData("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh\u00E9")]
    public void What_has_not_the_form_of_a_key_is_none(string text) => Assert.False(KeySecret.TryHash(text, out _));

    [Fact]
    public void No_two_keys_are_the_same()
    {
        using var random = RandomNumberGenerator.Create();

        Assert.Equal(1_000, Enumerable.Range(0, 1_000).Select(_ => KeySecret.Make(random)).Distinct(StringComparer.Ordinal).Count());
    }

    private sealed class Counting : RandomNumberGenerator
    {
        public override void GetBytes(byte[] data)
        {
            for (var i = 0; i < data.Length; i++)
            {
                data[i] = (byte)i;
            }
        }
    }
}
