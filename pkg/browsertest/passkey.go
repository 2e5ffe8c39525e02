package browsertest

import (
	"context"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"
)

// Passkeys gives the browser a device that keeps passkeys and whose owner always
// unlocks it (Web Authentication Level 2, §11: user agent automation).
func (b *Tab) Passkeys() {
	b.t.Helper()
	b.do("giving the browser a device for passkeys", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
			return err
		}
		_, err := chromedp.Call(ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
			Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal,
			HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true,
		}})
		return err
	}))
}
